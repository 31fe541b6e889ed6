"""Coverage of lines, worked out by hand and against shapely's areas."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely.geometry import LineString, box

from tidegate.draw import lines
from tidegate.draw.lines import line_coverage


def segments(*rows: tuple[float, float, float, float]) -> np.ndarray:
    return np.array(rows, float).reshape(-1, 4).T


def test_a_level_line_of_two_texels_fills_the_two_it_lies_between() -> None:
    # From x 2 to 5 at y 4, 2 wide: y 3 to 5, and x 1 to 6 as it is lengthened by half its width at both ends.
    grid = line_coverage(segments((2, 4, 5, 4)), 2.0, 8, 8)
    wanted = np.zeros((8, 8), int)
    wanted[3:5, 1:6] = 255
    assert grid.tolist() == wanted.tolist()


def test_a_line_of_one_texel_on_a_border_covers_half_of_either_side() -> None:
    # 1 wide about x 3: x 2.5 to 3.5; 0.5 * 255 = 127.5, rounded up. y 1.5 to 4.5: half of rows 1 and 4 of that.
    grid = line_coverage(segments((3, 2, 3, 4)), 1.0, 6, 6)
    assert grid[:, 2].tolist() == grid[:, 3].tolist() == [0, 64, 128, 128, 64, 0]
    assert grid[:, [0, 1, 4, 5]].max() == 0


def test_lines_through_texel_centres_fill_them() -> None:
    grid = line_coverage(segments((1.5, 2.5, 4.5, 2.5)), 1.0, 6, 6)
    assert grid[2].tolist() == [0, 255, 255, 255, 255, 0]
    assert int((grid > 0).sum()) == 4


def test_a_line_at_45_degrees() -> None:
    # A strip of width w about the diagonal y = x covers of the texels on the diagonal all but two corner triangles with
    # legs 1 - w * sqrt(2) / 2; for w = 0.5: leg 0.6464, area 2 * 0.2089 = 0.4179, so 0.5821 * 255 = 148.4.
    grid = line_coverage(segments((-5, -5, 15, 15)), 0.5, 8, 8)
    assert [int(grid[k, k]) for k in range(8)] == [148] * 8
    # Beside it: what sticks out of a texel, 0.5 * sqrt(2) / 2 = 0.3536 high, 0.0625 * 255 = 15.9.
    assert int(grid[3, 4]) == int(grid[4, 3]) == 16
    assert int(grid[3, 5]) == 0


@settings(max_examples=40, deadline=None)
@given(
    st.tuples(*[st.floats(-6, 22) for _ in range(4)]),
    st.sampled_from([0.3, 1.0, 2.0, 5.5, 17.0]),
)
def test_areas_agree_with_shapely_away_from_the_ends(ends: tuple[float, float, float, float], width: float) -> None:
    x0, y0, x1, y1 = ends
    grid = line_coverage(segments(ends), width, 16, 16) / 255.0
    if np.hypot(x1 - x0, y1 - y0) < 1e-6:
        return
    strip = LineString([(x0, y0), (x1, y1)]).buffer(width / 2, cap_style="flat")
    y, x = np.mgrid[0:16, 0:16] + 0.5
    far = np.minimum(np.hypot(x - x0, y - y0), np.hypot(x - x1, y - y1)) > width + 2  # ends are cut along the column
    for row, column in zip(*np.nonzero(far), strict=True):
        area = strip.intersection(box(column, row, column + 1, row + 1)).area
        assert abs(grid[row, column] - area) <= 0.51 / 255


@settings(max_examples=30, deadline=None)
@given(st.lists(st.tuples(*[st.floats(-3, 19) for _ in range(4)]), min_size=1, max_size=8), st.randoms())
def test_order_and_direction_do_not_matter(rows: list[tuple[float, float, float, float]], chance: object) -> None:
    turned = [(c, d, a, b) for a, b, c, d in rows]
    chance.shuffle(turned)
    one, other = line_coverage(segments(*rows), 1.3, 16, 16), line_coverage(segments(*turned), 1.3, 16, 16)
    assert np.abs(one.astype(int) - other.astype(int)).max() <= 1  # a turned line may differ in the last bit


def test_threads_change_nothing(monkeypatch: pytest.MonkeyPatch) -> None:
    many = np.random.default_rng(4).uniform(-10, 74, (4, 500))
    alone = line_coverage(many, 1.0, 64, 64)
    monkeypatch.setattr(lines, "_MANY", 1)
    monkeypatch.setattr(lines, "_STEPS_AT_ONCE", 64)
    assert np.array_equal(line_coverage(many, 1.0, 64, 64), alone)


@pytest.mark.parametrize(
    "row",
    [(np.nan, 1, 2, 3), (1, np.inf, 2, 3), (-900, -900, -800, -905), (1e7, 3, 2e7, 5), (3, 1e9, 4, 2e9)],
)
def test_what_is_no_line_or_lies_elsewhere_leaves_nothing(row: tuple[float, float, float, float]) -> None:
    assert line_coverage(segments(row), 2.0, 8, 8).max() == 0


def test_a_line_that_enters_from_far_away_is_drawn_where_it_passes() -> None:
    grid = line_coverage(segments((-1e5, 3.5, 1e5, 3.5)), 1.0, 8, 8)
    assert grid[3].tolist() == [255] * 8
    assert grid[[0, 1, 2, 4, 5, 6, 7]].max() == 0


def test_a_point_is_a_square_and_no_lines_are_no_wire() -> None:
    grid = line_coverage(segments((4, 4, 4, 4)), 2.0, 8, 8)
    assert grid[3:5, 3:5].min() == 255 and int((grid > 0).sum()) == 4
    assert line_coverage(np.zeros((4, 0)), 1.0, 5, 3).shape == (3, 5)
