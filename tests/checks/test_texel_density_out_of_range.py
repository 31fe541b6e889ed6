"""Density against what is wanted, and its spread on one map. Sheets have 512 px/m unless they say otherwise."""

from __future__ import annotations

import pytest

from tests.support.laid_props import collapsed, laid, sheet
from tests.support.mesh_props import findings
from tidegate.model.check import Scope

CHECK = "texel-density-out-of-range"


def of(density: float, x0: float = 100) -> object:
    return sheet(x0, 100, x0 + 100, 200, metres=(100 / density, 100 / density))


@pytest.mark.parametrize(("density", "told"), [(383.9, "under"), (384.1, ""), (639.9, ""), (640.1, "over")])
def test_both_sides_of_both_edges(density: float, told: str) -> None:
    found = findings(CHECK, laid(of(density)), wanted=512, tolerance=0.25)
    assert bool(found) is bool(told)
    if told:
        assert f"1 island of 1 {told}" in found[0].message
        assert (found[0].measured, found[0].wanted, found[0].unit) == (pytest.approx(density, abs=1e-3), 512, "px/m")


def test_off_until_somebody_says_what_is_wanted() -> None:
    assert findings(CHECK, laid(of(3.0))) == []


@pytest.mark.parametrize(("density", "told"), [(1023, False), (1025, True)])
def test_both_sides_of_the_spread(density: float, told: bool) -> None:
    found = findings(CHECK, laid(of(512), of(density, 300)), spread=2.0)
    assert bool(found) is told
    if told:
        assert found[0].place.islands == (1, 2) and found[0].measured == pytest.approx(density / 512, rel=1e-5)


def test_doubling_the_map_doubles_it() -> None:
    assert findings(CHECK, laid(of(512), size=(2048, 2048)), wanted=1024, tolerance=0.0001) == []


def test_a_map_that_is_not_square_counts_both_sides() -> None:
    # 512 px/m one way and 1024 the other: the root of their product is 724.08
    (found,) = findings(CHECK, laid(of(512), size=(2048, 1024)), wanted=512, tolerance=0.25)
    assert found.measured == pytest.approx(512 * 2**0.5, abs=1e-3)


def test_points_of_color_have_no_density_and_are_told_elsewhere() -> None:
    assert findings(CHECK, laid(sheet(500, 500, 900, 900), collapsed(sheet(400, 400, 500, 500))), wanted=512) == []


def test_a_place_on_the_map_without_a_surface_cannot_be_told() -> None:
    nothing = sheet(300, 100, 400, 200, metres=(0.0, 0.0))
    (found,) = findings(CHECK, laid(of(512), nothing), wanted=512)
    assert (found.certain, found.level, found.place.islands) == (False, "note", (2,))


def test_scope_leaves_others_alone() -> None:
    assert findings(CHECK, laid(of(99)), wanted=512, scope=Scope(material=("brass",))) == []
    assert len(findings(CHECK, laid(of(99)), wanted=512, scope=Scope(material=("oa*",)))) == 1
