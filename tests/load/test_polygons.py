"""Polygons are cut so that the triangles cover the polygon, once, and turn the same way."""

from __future__ import annotations

import math

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from tidegate.load.polygons import triangulate

L_SHAPE = [(0, 0), (2, 0), (2, 1), (1, 1), (1, 2), (0, 2)]


def cut(*outlines: list[tuple[float, float]], plane: str = "xy") -> tuple[np.ndarray, tuple[int, ...], np.ndarray]:
    """Triangles as points in the plane, unclear polygons, polygon of each triangle."""
    flat = np.array([point for outline in outlines for point in outline], dtype=float)
    axes = {"xy": (0, 1), "yz": (1, 2), "zx": (2, 0)}[plane]
    positions = np.zeros((len(flat), 3))
    positions[:, axes] = flat
    counts = np.array([len(outline) for outline in outlines], dtype=np.int32)
    made = triangulate(positions, np.arange(len(flat), dtype=np.int32), counts)
    assert made.corners.dtype == np.int32
    return flat[made.corners], made.unclear, made.polygon


def signed_areas(triangles: np.ndarray) -> np.ndarray:
    a, b, c = triangles[:, 0], triangles[:, 1], triangles[:, 2]
    return ((b[:, 0] - a[:, 0]) * (c[:, 1] - a[:, 1]) - (b[:, 1] - a[:, 1]) * (c[:, 0] - a[:, 0])) / 2


def assert_covers(triangles: np.ndarray, outline: list[tuple[float, float]]) -> None:
    """No overlap (areas add up) and the same region (the union is the polygon)."""
    polygon = shapely.Polygon(outline)
    assert (signed_areas(triangles) >= -1e-12 * polygon.area).all() or (
        signed_areas(triangles) <= 1e-12 * polygon.area
    ).all()
    assert np.abs(signed_areas(triangles)).sum() == pytest.approx(polygon.area, rel=1e-9)
    union = shapely.union_all([shapely.Polygon(t) for t in triangles if abs(shapely.Polygon(t).area) > 0])
    assert union.symmetric_difference(polygon).area <= 1e-9 * polygon.area


def test_triangles_stay_as_they_are() -> None:
    made = triangulate(np.zeros((6, 3)), np.arange(6, dtype=np.int32), np.array([3, 3], dtype=np.int32))
    assert made.corners.tolist() == [[0, 1, 2], [3, 4, 5]]
    assert made.polygon.tolist() == [0, 1]


def test_no_polygons() -> None:
    made = triangulate(np.zeros((0, 3)), np.zeros(0, dtype=np.int32), np.zeros(0, dtype=np.int32))
    assert made.corners.shape == (0, 3)


def test_a_convex_polygon_is_a_fan_from_its_first_corner() -> None:
    positions = np.array([[math.cos(a), math.sin(a), 0.0] for a in np.arange(5) * 2 * math.pi / 5])
    made = triangulate(positions, np.arange(5, dtype=np.int32), np.array([5], dtype=np.int32))
    assert made.corners.tolist() == [[0, 1, 2], [0, 2, 3], [0, 3, 4]]


@pytest.mark.parametrize("first", range(4))
def test_a_dart_is_cut_at_its_dent(first: int) -> None:
    # The dent is (0.5, 0.5): a cut between the other two corners would lie outside. Area 2 - 1 = 1: the triangle
    # (0,0) (2,0) (0,2) has 2, the part behind the dent is 1.
    dart = [(0.0, 0.0), (2.0, 0.0), (0.5, 0.5), (0.0, 2.0)]
    turned = dart[first:] + dart[:first]
    triangles, unclear, _ = cut(turned)
    assert unclear == ()
    assert (signed_areas(triangles) > 0).all()
    assert signed_areas(triangles).sum() == pytest.approx(1.0)


@pytest.mark.parametrize("plane", ["xy", "yz", "zx"])
@pytest.mark.parametrize("backwards", [False, True])
@pytest.mark.parametrize("first", range(6))
def test_an_l_shape_from_every_corner_and_side(first: int, backwards: bool, plane: str) -> None:
    outline = L_SHAPE[first:] + L_SHAPE[:first]
    outline = outline[::-1] if backwards else outline
    triangles, unclear, _ = cut(outline, plane=plane)
    assert unclear == ()
    assert_covers(triangles, outline)
    assert (np.sign(signed_areas(triangles)) == (-1 if backwards else 1)).all()
    assert np.abs(signed_areas(triangles)).sum() == pytest.approx(3.0)  # 2 x 1 + 1 x 1


def test_an_outline_with_a_hole_on_one_line() -> None:
    # A 4 x 4 square with a 2 x 2 hole, joined by the line (0,0)-(1,1), walked there and back: 16 - 4 = 12.
    ring = [(0, 0), (4, 0), (4, 4), (0, 4), (0, 0), (1, 1), (1, 3), (3, 3), (3, 1), (1, 1)]
    triangles, unclear, _ = cut(ring)
    assert unclear == ()
    assert (signed_areas(triangles) >= 0).all()
    assert signed_areas(triangles).sum() == pytest.approx(12.0)
    union = shapely.union_all([shapely.Polygon(t) for t in triangles])
    assert union.area == pytest.approx(12.0)


def test_a_bow_tie_is_told() -> None:
    _, unclear, _ = cut([(0, 0), (1, 0), (1, 1), (0, 1)], [(0, 0), (1, 1), (1, 0), (0, 2)])
    assert unclear == (1,)


def test_sizes_mixed_keep_their_order() -> None:
    triangle = [(0.0, 0.0), (1.0, 0.0), (0.0, 1.0)]
    square = [(0.0, 0.0), (1.0, 0.0), (1.0, 1.0), (0.0, 1.0)]
    _, _, polygon = cut(triangle, L_SHAPE, square, triangle)
    assert polygon.tolist() == [0, 1, 1, 1, 1, 2, 2, 3]


def test_points_that_are_no_numbers_do_not_raise() -> None:
    positions = np.full((5, 3), np.nan)
    made = triangulate(positions, np.arange(5, dtype=np.int32), np.array([5], dtype=np.int32))
    assert made.corners.shape == (3, 3)


# A corner in the middle of a straight edge: the fan from the first corner would begin with (0, 0) (1, 0) (2, 0), which
# has no area and whose long side is the neighbour's edge. The least area possible is that of half a 1 x 1 square.
STRAIGHT = {
    "oblong of six": [(0.0, 0.0), (1.0, 0.0), (2.0, 0.0), (2.0, 1.0), (1.0, 1.0), (0.0, 1.0)],
    "quad with a straight corner": [(0.0, 0.0), (1.0, 0.0), (2.0, 0.0), (0.0, 2.0)],
    "triangle with two points on a side": [(0.0, 0.0), (1.0, 0.0), (2.0, 0.0), (3.0, 0.0), (0.0, 3.0)],
    "square with a point on each side": [(0, 0), (1, 0), (2, 0), (2, 1), (2, 2), (1, 2), (0, 2), (0, 1)],
    "corner of an L on a line with another": [(0, 0), (1, 0), (2, 0), (2, 1), (1, 1), (1, 2), (0, 2), (0, 1)],
}


@pytest.mark.parametrize("name", STRAIGHT)
def test_straight_corners_make_no_triangle_without_area(name: str) -> None:
    for first in range(len(STRAIGHT[name])):
        outline = STRAIGHT[name][first:] + STRAIGHT[name][:first]
        triangles, unclear, _ = cut(outline)
        assert unclear == ()
        assert_covers(triangles, outline)
        assert signed_areas(triangles).min() >= 0.5


def test_a_corner_that_six_decimals_keep_off_the_line_is_straight() -> None:
    # From (0, 0) to (3, 1) the point at a third is (1, 0.333333...); written as 0.333333 it lies 3e-7 off the line.
    outline = [(0.0, 0.0), (1.0, 0.333333), (3.0, 1.0), (3.0, 3.0), (0.0, 3.0)]
    for turned in (outline, [(x, y + 6e-7 if x == 1.0 else y) for x, y in outline]):  # on one side of it, and the other
        triangles, unclear, _ = cut(turned)
        assert unclear == ()
        assert signed_areas(triangles).min() > 0.5


def test_a_polygon_that_is_thin_itself_is_a_fan() -> None:
    # No cut gives these an area: all corners on one line, and one corner stated twice.
    for outline in ([(0, 0), (1, 0), (2, 0), (3, 0), (4, 0)], [(0, 0), (0, 0), (1, 0), (1, 1)]):
        triangles, unclear, _ = cut(outline)
        assert unclear == ()
        assert len(triangles) == len(outline) - 2


@settings(max_examples=60, deadline=None)
@given(st.lists(st.floats(0.1, 1.0), min_size=4, max_size=14), st.integers(0, 13))
def test_star_shaped_outlines_are_covered_once(radii: list[float], first: int) -> None:
    points = [
        (r * math.cos(2 * math.pi * i / len(radii)), r * math.sin(2 * math.pi * i / len(radii)))
        for i, r in enumerate(radii)
    ]
    first %= len(points)
    outline = points[first:] + points[:first]
    triangles, unclear, _ = cut(outline)
    assert unclear == ()
    assert len(triangles) == len(outline) - 2
    assert_covers(triangles, outline)


def cut_on(points: list[tuple[float, ...]], uv: list[tuple[float, float]]) -> np.ndarray:
    """Triangles of one polygon that is laid out."""
    places = np.array([(*point, 0.0)[:3] for point in points], dtype=float)
    every = np.arange(len(points), dtype=np.int32)
    made = triangulate(places, every, np.array([len(points)], np.int32), (np.array(uv, dtype=float), every))
    assert made.unclear == ()
    return made.corners


def test_a_cut_is_right_in_the_layout_too() -> None:
    # An oblong bent upwards along its middle line, laid out flat: corners 0, 1 and 2 lie on one line there, not in space.
    bent = [(0, 0, 0), (1, 0, 1), (2, 0, 0), (2, 1, 0), (1, 1, 1), (0, 1, 0)]
    uv = [(0.0, 0.0), (0.2, 0.0), (0.4, 0.0), (0.4, 0.2), (0.2, 0.2), (0.0, 0.2)]
    triangles = cut_on(bent, uv)
    assert np.abs(signed_areas(np.array(uv)[triangles])).min() == pytest.approx(0.02)  # half a cell of 0.2 x 0.2
    assert np.abs(signed_areas(np.array(uv)[triangles])).sum() == pytest.approx(0.08)
    # A kite in space whose first three corners lie on one line in the layout: the other diagonal has an area in both.
    kite = [(0, 0), (2, 0), (2, 2), (0, 2)]
    assert cut_on(kite, [(0, 0), (0.1, 0), (0.2, 0), (0, 0.2)]).tolist() == [[1, 2, 3], [1, 3, 0]]
    assert cut_on(kite, [(0, 0), (0.1, -0.01), (0.2, 0), (0, 0.2)]).tolist() == [[0, 1, 2], [0, 2, 3]]


@pytest.mark.parametrize("uv", [[(0.5, 0.5)] * 4, [(0.1 * i, 0.3) for i in range(4)]])
def test_a_point_or_a_line_in_the_layout_changes_no_cut(uv: list[tuple[float, float]]) -> None:
    assert cut_on([(0, 0), (2, 0), (2, 2), (0, 2)], uv).tolist() == [[0, 1, 2], [0, 2, 3]]


def test_faces_without_uvs_beside_others_are_cut_by_space_alone() -> None:
    places = np.array([(0, 0, 0), (1, 0, 0), (2, 0, 0), (0, 2, 0)] * 2, dtype=float)
    uv = np.array([(0, 0), (0.1, 0), (0.2, 0), (0, 0.2)])
    index = np.array([0, 1, 2, 3, -1, -1, -1, -1], np.int32)
    made = triangulate(places, np.arange(8, dtype=np.int32), np.array([4, 4], np.int32), (uv, index))
    assert made.corners.tolist() == [[1, 2, 3], [1, 3, 0], [5, 6, 7], [5, 7, 4]]
