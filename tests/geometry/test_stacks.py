from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.geometry.shapes import Sheet, grid, together
from tidegate.geometry.areas import island_boxes, island_sums, uv_areas
from tidegate.geometry.borders import border_sides
from tidegate.geometry.outlines import outlines
from tidegate.geometry.stacks import exact_stacks, identical_islands, same_shape

TOLERANCE = 0.05 / 2048


def plate(points: list[tuple[float, float]], fan_from: int = 0, height: float = 0.0) -> Sheet:
    """A convex plate with the given outline, cut into a fan from one of its corners."""
    uv = np.roll(np.array(points, float), -fan_from, axis=0)
    triangles = np.array([[0, k, k + 1] for k in range(1, len(uv) - 1)], np.int32)
    return Sheet(np.column_stack([uv, np.full(len(uv), height)]), triangles, uv, triangles)


KITE = [(0.2, 0.2), (0.5, 0.25), (0.6, 0.6), (0.3, 0.4)]


def stacked(*sheets: Sheet) -> tuple[list[int], list[int], list[int]]:
    # Every sheet at a height of its own, so that equal UVs do not weld.
    lifted = [s._replace(positions=s.positions + np.array([0, 0, float(k)])) for k, s in enumerate(sheets)]
    prop = together(*lifted)
    labels, count = prop.labels()
    assert count == len(sheets)
    uv = prop.uv_columns()
    outline = outlines(uv, prop.corners(), border_sides(prop.mates(), labels), labels, count)
    boxes = island_boxes(uv, labels, count)
    areas = island_sums(np.abs(uv_areas(uv)), labels, count)
    return (
        exact_stacks(outline, boxes, areas, TOLERANCE).tolist(),
        same_shape(outline, boxes, areas, TOLERANCE).tolist(),
        identical_islands(uv, labels, count).tolist(),
    )


def moved(points: list[tuple[float, float]], degrees: float, shift: tuple[float, float], mirror: bool = False) -> Sheet:
    c, s = np.cos(np.radians(degrees)), np.sin(np.radians(degrees))
    turned = np.array(points) @ np.array([[c, s], [-s, c]]) * np.array([-1.0 if mirror else 1.0, 1.0]) + shift
    return plate([tuple(p) for p in turned])


def test_the_same_outline_cut_another_way_is_a_stack() -> None:
    stack, shape, identical = stacked(plate(KITE), plate(KITE, fan_from=1), plate(KITE, fan_from=2))
    assert stack == shape == [0, 0, 0]
    # Fans from corners 0 and 2 of a kite use the same diagonal, from corner 1 the other.
    assert identical == [0, 1, 0]


def test_points_along_a_straight_border_do_not_count() -> None:
    with_point = [*KITE[:1], (0.35, 0.225), *KITE[1:]]
    assert stacked(plate(KITE), plate(with_point, fan_from=3))[0] == [0, 0]


def test_a_mirrored_twin_laid_on_its_other_half_is_a_stack() -> None:
    # Mirrored in the model, so its corners run the other way round over the same points.
    twin = plate(KITE)
    twin = twin._replace(triangles=twin.triangles[:, ::-1].copy(), uv_triangles=twin.uv_triangles[:, ::-1].copy())
    assert stacked(plate(KITE), twin)[0] == [0, 0]


@pytest.mark.parametrize("turn", [90, 180, 270])
def test_a_square_turned_on_its_spot_is_a_stack(turn: float) -> None:
    square = [(-0.2, -0.2), (0.2, -0.2), (0.2, 0.2), (-0.2, 0.2)]
    assert stacked(moved(square, 0, (0.5, 0.5)), moved(square, turn, (0.5, 0.5)))[0] == [0, 0]


@pytest.mark.parametrize(("turn", "stack"), [(180, [0, 0]), (90, [0, 1])])
def test_an_oblong_is_a_stack_only_where_it_falls_on_itself(turn: float, stack: list[int]) -> None:
    oblong = [(-0.3, -0.1), (0.3, -0.1), (0.3, 0.1), (-0.3, 0.1)]
    found, shape, _ = stacked(moved(oblong, 0, (0.5, 0.5)), moved(oblong, turn, (0.5, 0.5)))
    assert found == stack
    assert shape == [0, 0]


@pytest.mark.parametrize(("texels", "stack"), [(0.04, [0, 0]), (0.25, [0, 1]), (1.0, [0, 1])])
def test_near_is_not_exact(texels: float, stack: list[int]) -> None:
    step = texels / 2048
    shifted = plate([(u + step, v) for u, v in KITE])
    assert stacked(plate(KITE), shifted)[0] == stack
    # The same box and nearly the same area, one corner off.
    bent = [*KITE[:3], (KITE[3][0] + step, KITE[3][1])]
    assert stacked(plate(KITE), plate(bent))[0] == stack


@settings(max_examples=30, deadline=None)
@given(st.floats(0, 360), st.floats(-2, 2), st.floats(-2, 2), st.booleans())
def test_the_same_shape_is_found_turned_moved_and_mirrored(turn: float, u: float, v: float, mirror: bool) -> None:
    stack, shape, _ = stacked(plate(KITE), moved(KITE, turn, (u, v + 5.0), mirror))
    assert shape == [0, 0]
    assert stack == [0, 1]


def test_another_shape_of_the_same_area_and_corners_is_another() -> None:
    # Squares of side 0.2 and rectangles of 0.4 x 0.1.
    square = plate([(0, 0), (0.2, 0), (0.2, 0.2), (0, 0.2)])
    oblong = plate([(0, 0), (0.4, 0), (0.4, 0.1), (0, 0.1)])
    assert stacked(square, oblong)[1] == [0, 1]


def test_several_stacks_and_loners_in_any_order() -> None:
    a, b = plate(KITE), plate([(0.7, 0.7), (0.9, 0.7), (0.8, 0.95)])
    assert stacked(b, a, grid(2, 2, (0.0, 0.0), 0.1), a, b, a)[0] == [0, 1, 2, 1, 0, 1]


def test_islands_whose_boxes_chain_within_the_tolerance_are_still_told_apart() -> None:
    step = 0.04 / 2048
    chain = [plate([(u + k * step, v) for u, v in KITE]) for k in range(8)]
    found = stacked(*chain)[0]
    # Each agrees with the one before, not with the first: 2 x 0.05 texel apart at most is one stack, then a new one.
    assert found[0] == found[1] == 0
    assert found[7] != 0


def test_no_islands() -> None:
    none = np.zeros((3, 2, 0))
    assert len(identical_islands(none, np.zeros(0, np.int32), 0)) == 0
    outline = outlines(none, np.zeros((0, 3), np.int32), np.zeros(0, np.int64), np.zeros(0, np.int32), 0)
    assert len(exact_stacks(outline, np.zeros((0, 4)), np.zeros(0), TOLERANCE)) == 0


def test_outline_corners_of_a_sheet_are_its_four_and_of_a_frame_eight() -> None:
    sheet = grid(5, 3)
    labels, count = sheet.labels()
    outline = outlines(sheet.uv_columns(), sheet.corners(), border_sides(sheet.mates(), labels), labels, count)
    assert outline.size.tolist() == [4]
    # A frame: the grid of 3 x 3 without its middle cell has 8 corners, 4 of them around the hole.
    frame = grid(3, 3)
    keep = np.ones(18, bool)
    keep[8:10] = False
    frame = frame._replace(triangles=frame.triangles[keep], uv_triangles=frame.uv_triangles[keep])
    labels, count = frame.labels()
    outline = outlines(frame.uv_columns(), frame.corners(), border_sides(frame.mates(), labels), labels, count)
    assert outline.size.tolist() == [8]
    assert {tuple(np.round(p * 3).astype(int)) for p in outline.point.T} == {
        (0, 0), (3, 0), (3, 3), (0, 3), (1, 1), (2, 1), (2, 2), (1, 2),
    }  # fmt: skip  # a table, read by its rows
