from __future__ import annotations

import numpy as np
import pytest

from tests.geometry.shapes import Sheet, grid, renumbered
from tidegate.geometry.quads import dihedral_degrees, likely_diagonals, polygon_diagonals


@pytest.mark.parametrize("degrees", [0.0, 0.001, 30.0, 90.0, 179.0])
def test_the_bend_of_a_hinge(degrees: float) -> None:
    angle = np.radians(degrees)
    points = np.array([[0.0, 0, 0], [0, 1, 0], [1, 0, 0], [-np.cos(angle), 0, -np.sin(angle)]])
    sheet = Sheet(
        points,
        np.array([[0, 2, 1], [0, 1, 3]], np.int32),
        points[:, :2].copy(),
        np.array([[0, 2, 1], [0, 1, 3]], np.int32),
    )
    low, high, bend = dihedral_degrees(sheet.xyz_columns(), sheet.mates())
    assert (low.tolist(), high.tolist()) == ([2], [3])
    assert bend[0] == pytest.approx(degrees, abs=1e-9)


def test_a_bend_at_a_triangle_without_area_is_unknown() -> None:
    points = np.array([[0.0, 0, 0], [0, 1, 0], [1, 0, 0], [0, 2, 0]])
    triangles = np.array([[0, 2, 1], [0, 1, 3]], np.int32)
    sheet = Sheet(points, triangles, points[:, :2].copy(), triangles)
    assert np.isnan(dihedral_degrees(sheet.xyz_columns(), sheet.mates())[2]).all()


def diagonals(sheet: Sheet) -> set[frozenset[int]]:
    found = np.flatnonzero(likely_diagonals(sheet.xyz_columns(), sheet.mates()))
    flat = sheet.triangles.ravel()
    return {frozenset((int(flat[s]), int(flat[s // 3 * 3 + (s % 3 + 1) % 3]))) for s in found}


def test_the_diagonals_of_a_sheet_are_those_it_was_made_with() -> None:
    sheet = grid(5, 3)
    made = {frozenset((int(a), int(c))) for a, _, c in sheet.triangles[::2]}
    assert diagonals(sheet) == made
    assert len(made) == 15
    moved, _ = renumbered(sheet, 1)
    assert len(diagonals(moved)) == 15


def test_a_net_of_equal_sided_triangles_has_no_quads() -> None:
    sheet = grid(6, 4)
    slanted = sheet._replace(positions=sheet.positions @ np.array([[1.0, 0, 0], [-0.5, 3**0.5 / 2, 0], [0, 0, 1]]))
    assert diagonals(slanted) == set()


def test_quads_that_bend_are_left_as_triangles() -> None:
    sheet = grid(1, 1)
    for height, found in ((0.001, 1), (0.1, 0)):
        points = sheet.positions.copy()
        points[3, 2] = height
        assert len(diagonals(sheet._replace(positions=points))) == found


def test_polygons_know_their_own_diagonals() -> None:
    sheet = grid(3, 1)
    # Three quads in the file: the diagonal is inside, the sides between quads are not.
    inside = polygon_diagonals(np.array([0, 0, 1, 1, 2, 2], np.int32), sheet.mates())
    assert inside.sum() == 6
    assert np.flatnonzero(inside).tolist() == [2, 3, 8, 9, 14, 15]
    assert not polygon_diagonals(np.arange(6, dtype=np.int32), sheet.mates()).any()
