"""Surfaces that just miss closing, and openings that were meant."""

from __future__ import annotations

import numpy as np
import pytest

from tests.geometry.shapes import box, grid
from tidegate.geometry.areas import cross_products
from tidegate.geometry.corners import corner_columns
from tidegate.geometry.cracks import _together, left_out_triangles, unwelded_sides
from tidegate.geometry.topology import edge_faults, pieces
from tidegate.geometry.weld import point_ids


def holes(triangles: np.ndarray) -> list[list[int]]:
    """Corners around each hole, ascending."""
    corners = np.asarray(triangles, np.int32)
    loops = left_out_triangles(corners, edge_faults(corners).open, pieces(corners, int(corners.max()) + 1).label)
    return sorted(sorted(corners.reshape(-1)[loop].tolist()) for loop in loops)


def test_a_triangle_left_out_of_a_box() -> None:
    _, triangles = box()
    assert holes(triangles) == []
    for missing in range(12):
        assert holes(np.delete(triangles, missing, axis=0)) == [sorted(triangles[missing].tolist())]


def test_a_side_left_out_is_an_opening() -> None:
    _, triangles = box()
    assert holes(triangles[2:]) == []  # both triangles of the first side
    assert holes(np.delete(triangles, [0, 2], axis=0)) != []  # of two sides one each, that share no edge


def test_sheets_and_caps_have_no_holes() -> None:
    assert holes(grid(3, 3).triangles) == []
    fan = np.array([[0, 1, 2], [0, 2, 3], [0, 3, 1]])  # a pennant around a point, or a pyramid without its foot
    assert holes(fan) == []
    assert holes(np.array([[0, 1, 2]])) == []


def seams(points: np.ndarray, triangles: list[list[int]], reach: float) -> list[int]:
    faces = np.array(triangles, np.int32)
    corners = point_ids(points)[0][faces]
    xyz = corner_columns(points, faces)
    return unwelded_sides(xyz, cross_products(xyz), corners, edge_faults(corners).open, reach).tolist()


def squares(gap: float, *, long: float = 1.0, fold: float = 0.0) -> tuple[np.ndarray, list[list[int]]]:
    """Two squares side by side, `gap` apart, the second turned up about the common edge by so many degrees."""
    turn = np.radians(fold)
    a = np.array([[0, 0, 0], [1, 0, 0], [1, long, 0], [0, long, 0]], float)
    b = np.array([[0, 0, 0], [np.cos(turn), 0, np.sin(turn)], [np.cos(turn), long, np.sin(turn)], [0, long, 0]], float)
    return np.concatenate([a, b + np.array([1.0 + gap, 0, 0])]), [[0, 1, 2], [0, 2, 3], [4, 5, 6], [4, 6, 7]]


@pytest.mark.parametrize(("gap", "found"), [(0.0, 0), (1e-9, 1), (0.000999, 1), (0.001001, 0)])
def test_both_sides_of_the_reach(gap: float, found: int) -> None:
    assert len(seams(*squares(gap), reach=0.001)) == found  # at 0 they are welded


@pytest.mark.parametrize(("long", "found"), [(0.0101, 1), (0.0099, 0)])
def test_both_sides_of_a_tenth_of_the_edge(long: float, found: int) -> None:
    assert len(seams(*squares(0.001, long=long), reach=0.0011)) == found


@pytest.mark.parametrize(("fold", "found"), [(0.0, 1), (119.9, 1), (120.1, 0), (180.0, 0)])
def test_front_and_back_of_a_sheet_are_no_crack(fold: float, found: int) -> None:
    assert len(seams(*squares(0.0005, fold=fold), reach=0.001)) == found


def test_three_borders_at_one_place_are_left_alone() -> None:
    points, triangles = squares(0.0005)
    points = np.concatenate([points, points[4:] + np.array([0.0002, 0, 0])])
    assert seams(points, [*triangles, [8, 9, 10], [8, 10, 11]], reach=0.001) == []


def test_numbering_decides_nothing() -> None:
    points, triangles = squares(0.0004)
    order = np.array([5, 2, 7, 0, 3, 6, 1, 4])
    moved = np.empty_like(points)
    moved[order] = points
    assert len(seams(moved, order[np.array(triangles)][::-1].tolist(), reach=0.001)) == 1


def test_what_lies_within_reach_hangs_together_whatever_lies_between() -> None:
    """Against each point held against each other: random places, up to one a cube as wide as the reach."""
    rng = np.random.default_rng(3)
    for side in (4.0, 6.0, 10.0) * 10:
        points = rng.random((60, 3)) * side
        near = (np.abs(points[:, None] - points[None]) <= 1.0).all(axis=2)
        while not np.array_equal(further := near @ near, near):
            near = further
        heap, heaps = _together(points, 1.0)
        assert heaps == len(np.unique(near, axis=0))
        assert np.array_equal(near, heap[:, None] == heap[None])
