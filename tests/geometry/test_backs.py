"""Backs of sheets that share the paint of their fronts, told from folds and from turned faces."""

from __future__ import annotations

import numpy as np
import pytest

from tidegate.geometry.areas import cross_products, flat_in_tile, uv_areas
from tidegate.geometry.backs import shared_backs
from tidegate.geometry.corners import corner_columns
from tidegate.geometry.edges import edge_mates
from tidegate.geometry.islands import label_islands
from tidegate.geometry.weld import corner_ids

SQUARE = np.array([[0.0, 0.0], [1.0, 0.0], [1.0, 1.0], [0.0, 1.0]])


def backs(points: np.ndarray, triangles: list[list[int]], uv: np.ndarray) -> list[int]:
    faces = np.array(triangles, np.int32)
    corners, _ = corner_ids(points, faces, uv, faces)
    mates = edge_mates(corners)
    labels, count = label_islands(corners, mates)
    laid = corner_columns(uv, faces)
    signed = uv_areas(laid)
    normals = cross_products(corner_columns(points, faces))
    found = shared_backs(corners, mates, labels, count, signed, flat_in_tile(laid, signed), normals)
    return [] if found is None else np.flatnonzero(found).tolist()


@pytest.mark.parametrize("other_diagonal", [False, True])
def test_the_back_of_a_leaf(other_diagonal: bool) -> None:
    points = np.c_[SQUARE, np.zeros(4)]
    back = [[3, 2, 1], [3, 1, 0]] if other_diagonal else [[0, 2, 1], [0, 3, 2]]
    assert backs(points, [[0, 1, 2], [0, 2, 3], *back], SQUARE) == [2, 3]


def test_the_back_of_a_sheet_of_many_faces() -> None:
    # Three squares in a row: edges inside the sheet are shared by two fronts and two backs.
    points = np.array([[x, y, 0.0] for y in range(2) for x in range(4)], float)
    fronts = [t for i in range(3) for t in ([i, i + 1, i + 5], [i, i + 5, i + 4])]
    assert backs(points, [*fronts, *([a, c, b] for a, b, c in fronts)], points[:, :2] / 4) == [6, 7, 8, 9, 10, 11]


@pytest.mark.parametrize(("degrees", "found"), [(149.9, []), (150.1, [1])])
def test_both_sides_of_facing_the_other_way(degrees: float, found: list[int]) -> None:
    # Two triangles on one edge, laid out on each other; the second's face is turned away from the first's by so much.
    turn = np.radians(180.0 - degrees)
    points = np.array([[0, 0, 0], [1, 0, 0], [0, 1, 0], [0, np.cos(turn), -np.sin(turn)]], float)
    uv = np.array([[0, 0], [1, 0], [0, 1], [0, 1]], float)
    assert backs(points, [[0, 1, 2], [1, 0, 3]], uv) == found


def test_a_fold_in_a_surface_that_goes_on_is_none() -> None:
    # Flat on the surface; in the tile the second triangle was pushed over the first.
    points = np.array([[0, 0, 0], [1, 0, 0], [0, 1, 0], [0, -1, 0]], float)
    uv = np.array([[0, 0], [1, 0], [0, 1], [0.2, 0.5]], float)
    assert backs(points, [[0, 1, 2], [1, 0, 3]], uv) == []


def test_the_far_half_of_what_was_projected_flat_is_none() -> None:
    # A wedge seen from the side of its edge: front and back meet in a knife edge on the left and over a blunt side on the right.
    points = np.array([[0, 0, 0], [0, 1, 0], [1, 0, 0.1], [1, 1, 0.1], [1, 0, -0.1], [1, 1, -0.1]])
    front, side, back = [[0, 2, 3], [0, 3, 1]], [[2, 4, 5], [2, 5, 3]], [[4, 0, 1], [4, 1, 5]]
    uv = points[:, :2] + np.array([0.0, 0.0]) - points[:, 2:] * [0.5, 0.0]
    assert backs(points, [*front, *side, *back], uv) == []
    assert backs(points, [*front, *back], uv) == [2, 3]  # without the blunt side they are two sheets, 168 degrees apart


def test_a_turned_face_beside_is_none() -> None:
    points = np.array([[0, 0, 0], [1, 0, 0], [0, 1, 0], [0, -1, 0]], float)
    assert backs(points, [[0, 1, 2], [0, 1, 3]], points[:, :2]) == []
