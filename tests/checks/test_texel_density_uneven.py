"""Spread of density over the prop, over a material, and inside an island."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from tests.support.laid_props import OAK, Sheet, laid, laid_part, painted, sheet
from tests.support.mesh_props import findings, material, mesh_file
from tidegate.model.image_header import ImageHeader
from tidegate.model.prop import Binding, Prop, TextureMap

CHECK = "texel-density-uneven"


def of(density: float, x0: float = 100, side: float = 100) -> Sheet:
    return sheet(x0, 100, x0 + side, 100 + side, metres=(side / density, side / density))


def two_maps(other: float) -> Prop:
    """A board on one map at 512 px/m, and one on a second map at `other`, the same surface."""
    parts = (laid_part(of(512)), laid_part(sheet(0, 0, 100, 100, metres=(100 / other,) * 2), mesh="keel", material=1))
    mesh = mesh_file(*parts, path="a.glb", materials=(OAK, material("brass")))
    first = painted(parts[0])
    return replace(
        first,
        meshes=(mesh,),
        maps=(*first.maps, TextureMap("brass.png", "", ImageHeader("png", 1, 1024, 1024), ("base_color",))),
        bindings=(*first.bindings, Binding("a.glb", "brass", "base_color", "brass.png", "name")),
    )


@pytest.mark.parametrize(("other", "told"), [(767.9, False), (768.1, True)])
def test_both_sides_over_the_prop(other: float, told: bool) -> None:
    found = findings(CHECK, two_maps(other), prop=1.5)
    assert bool(found) is told
    if told:
        assert found[0].measured == pytest.approx(other / 512, rel=1e-5)
        assert found[0].place.islands == (1, 2) and "the model spread" in found[0].message
    assert findings(CHECK, two_maps(other), material=1.1) == []  # each material is even in itself


@pytest.mark.parametrize(("limit", "told"), [(1.999, True), (2.001, False)])
def test_both_sides_over_a_material(limit: float, told: bool) -> None:
    found = findings(CHECK, laid(of(512), of(1024, 300, 200)), material=limit)
    assert bool(found) is told
    if told:
        assert found[0].place.material == "oak"


def test_a_small_dense_island_is_let_be_on_purpose() -> None:
    # A maker's plate of 2048 px/m, with a part in 20.1 of the surface, below 5 %, and with one in 19.9.
    for part, told in ((20.1, False), (19.9, True)):
        plate = of(2048, 600, 100 * 4 / (part - 1) ** 0.5)
        assert bool(findings(CHECK, laid(of(512), plate), material=1.5)) is told


def graded(ratio: float) -> Sheet:
    """Ten cells of equal surface, each a little wider in the tile than the one before, up to `ratio` in density."""
    row = sheet(100, 100, 500, 200, cells=(10, 1), metres=(4.0, 1.0))
    width = ratio ** (2 * np.arange(10) / 9)  # density goes with the root of the area
    edges = np.concatenate([[0.0], np.cumsum(width)])
    row.uv[:, 0] = np.tile(edges / edges[-1] * 400 + 100, 2) / 1024
    return row


@pytest.mark.parametrize(("ratio", "told"), [(1.499, False), (1.501, True)])
def test_both_sides_inside_an_island(ratio: float, told: bool) -> None:
    # 5 % and 95 % of the surface fall into the first and the last of ten cells.
    found = findings(CHECK, laid(graded(ratio)), inside=1.5)
    assert bool(found) is told
    if told:
        assert found[0].measured == pytest.approx(ratio, rel=1e-4)
        assert found[0].message.endswith("denser to the right")


def test_all_off_by_default() -> None:
    assert findings(CHECK, laid(graded(9.0), of(9.0, 600))) == []
