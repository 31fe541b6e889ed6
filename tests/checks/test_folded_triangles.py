"""Triangles that lie the other way round than their island."""

from __future__ import annotations

import numpy as np
import pytest

from tests.support.laid_props import Sheet, laid, sheet
from tests.support.mesh_props import findings

CHECK = "folded-triangles"


def pushed(by: float) -> Sheet:
    """A row of four cells of 100 texels; the lower right corner is pushed `by` texels to the left of its neighbour."""
    row = sheet(100, 100, 500, 200, cells=(4, 1))
    row.uv[4, 0] = row.uv[3, 0] - by / 1024
    return row


def test_a_corner_pushed_over_its_neighbour_folds_one_triangle() -> None:
    assert findings(CHECK, laid(pushed(-10))) == []
    (found,) = findings(CHECK, laid(pushed(10)))
    # Of the last cell, (400, 100) (390, 100) (500, 200) turned round; its other triangle did not.
    assert (found.measured, found.wanted, found.unit) == (1, 0, "triangles")
    assert found.place.islands == (1,) and "most in island 1, 1 of 8" in found.message
    assert found.place.uv_box == tuple(round(t / 1024, 6) for t in (390, 100, 500, 200))


@pytest.mark.parametrize(("least", "told"), [(499.9, True), (500.1, False)])
def test_both_sides_of_the_least_area(least: float, told: bool) -> None:
    # 10 texels along the bottom, 100 high: 500 square texels
    assert bool(findings(CHECK, laid(pushed(10)), least_texels=least)) is told


def test_both_sides_of_the_allowed_number() -> None:
    assert findings(CHECK, laid(pushed(10)), allowed=1) == []
    two = laid(pushed(10), pushed(10)._replace(uv=pushed(10).uv + 0.4))
    (found,) = findings(CHECK, two, allowed=1)
    assert found.measured == 2 and found.place.islands == (1, 2)


def test_an_island_folded_in_half_is_named_so() -> None:
    half = sheet(100, 100, 200, 200, cells=(2, 1))
    half.uv[2::3] = half.uv[0::3]
    (found,) = findings(CHECK, laid(half))
    assert found.measured == 2 and "folded in half" in found.message and "cut the island" in found.help


def test_a_mirrored_island_is_not_folded_and_neither_are_flat_triangles() -> None:
    assert findings(CHECK, laid(sheet(100, 100, 200, 200, mirrored=True))) == []
    flat = sheet(100, 100, 500, 200, cells=(4, 1))
    flat.uv[4] = flat.uv[3]
    assert findings(CHECK, laid(flat)) == []
    assert np.array_equal(flat.uv[4], flat.uv[3])
