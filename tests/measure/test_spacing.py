"""Room between islands and to the border, in texels."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from tests.support.laid_props import OAK, Sheet, collapsed, laid, laid_part, painted, sheet
from tests.support.mesh_props import facts_of, mesh_file
from tidegate.measure.spacing import Spacing
from tidegate.model.prop import Prop

A = sheet(100, 100, 200, 200)


def spacing(thing: Prop) -> Spacing:
    (found,) = facts_of(thing, "spacing").spacing
    assert isinstance(found, Spacing)
    return found


@pytest.mark.parametrize(
    ("other", "gap", "pixel"),
    [
        (sheet(207, 100, 307, 200), 7.0, None),
        (sheet(203, 204, 303, 304), 5.0, (201.5, 822.0)),  # corner to corner, 3 and 4; 202 from below is 822 from above
        (sheet(200, 200, 300, 300), 0.0, (200.0, 824.0)),
    ],
)
def test_worked_gaps(other: Sheet, gap: float, pixel: tuple[float, float] | None) -> None:
    (pair,) = spacing(laid(A, other)).pairs
    assert (pair.first, pair.second) == (0, 1)
    assert pair.texels == pytest.approx(gap, abs=1e-5)
    assert pixel is None or pair.pixel == pytest.approx(pixel, abs=1e-2)


def test_each_island_has_its_nearest_neighbour_and_each_pair_is_told_once() -> None:
    row = [sheet(100 + 110 * k, 100, 200 + 110 * k, 200) for k in range(3)]
    assert [(p.first, p.second, p.texels) for p in spacing(laid(*row)).pairs] == [(0, 1, 10.0), (1, 2, 10.0)]


def test_beyond_reach_nobody_cares() -> None:
    assert spacing(laid(A, sheet(329, 100, 429, 200))).pairs == ()  # 129 texels
    assert len(spacing(laid(A, sheet(327, 100, 427, 200))).pairs) == 1


def test_stacked_and_overlapping_islands_have_no_gap() -> None:
    assert spacing(laid(A, A)).pairs == ()
    assert spacing(laid(A, sheet(150, 100, 250, 200))).pairs == ()


def test_islands_without_room_for_paint_stand_aside() -> None:
    narrow = sheet(202, 100, 202.4, 200)  # less than half a texel wide
    found = spacing(laid(A, collapsed(sheet(203, 150, 204, 160)), narrow, sheet(210, 100, 610, 500)))
    assert [(p.texels, p.first, p.second) for p in found.pairs] == [(10.0, 0, 3)]
    assert np.isnan(found.border).tolist() == [False, True, True, False]


def test_a_change_of_material_wants_no_gap() -> None:
    points = np.array([[0, 0, 0], [1, 0, 0], [1, 1, 0], [0, 1, 0], [2, 0, 0], [2, 1, 0]], float)
    uv = points[:, :2] / 4
    left = laid_part(Sheet(points, np.array([[0, 1, 2], [0, 2, 3]]), uv))
    right = laid_part(Sheet(points, np.array([[1, 4, 5], [1, 5, 2]]), uv), material=1)
    brass = replace(OAK, name="brass")
    thing = painted(left)
    both = replace(
        thing,
        meshes=(mesh_file(left, right, path="a.glb", materials=(OAK, brass)),),
        bindings=(*thing.bindings, replace(thing.bindings[0], material="brass")),
    )
    assert spacing(both).pairs == ()


def test_room_to_the_border_of_the_tile_an_island_starts_in() -> None:
    found = spacing(laid(sheet(3, 100, 200, 200), sheet(300, 100, 400, 1019), sheet(1500, 1500, 2046, 1600)))
    np.testing.assert_allclose(found.border, [3.0, 5.0, 2.0])
