from __future__ import annotations

import numpy as np
import pytest

from tidegate.geometry.tiles import island_tiles, repeats, udim_number


@pytest.mark.parametrize(
    ("u", "v", "number"),
    [
        # MaterialX Specification 1.39, "Filename Substitutions": 1001 + U + V * 10 with the whole parts of u and v.
        (0.5, 0.5, 1001),
        (1.5, 0.5, 1002),
        (9.5, 0.5, 1010),
        (0.5, 1.5, 1011),
        (3.1, 4.15, 1044),
        (9.9, 9.9, 1100),
        # Exactly 1 is in the next tile, for a point.
        (1.0, 1.0, 1012),
        # Ten tiles across, none to the left or below.
        (10.0, 0.5, 0),
        (-0.1, 0.5, 0),
        (0.5, -0.1, 0),
    ],
)
def test_numbers_of_points(u: float, v: float, number: int) -> None:
    assert udim_number(u, v) == number


@pytest.mark.parametrize(
    ("box", "number"),
    [
        ((0.0, 0.0, 1.0, 1.0), 1001),
        ((1.0, 0.0, 2.0, 1.0), 1002),
        ((0.0, 1.0, 1.0, 2.0), 1011),
        ((3.0, 4.0, 4.0, 5.0), 1044),
        ((9.0, 9.0, 10.0, 10.0), 1100),
        # Ends computed in single precision: one step beyond the border is rounding.
        ((0.0, 0.0, float(np.nextafter(np.float32(1), np.float32(2))), 1.0), 1001),
        ((float(np.nextafter(np.float32(1), np.float32(0))), 0.0, 2.0, 1.0), 1002),
        # A thousandth of a texel of a 1024 map beyond it is not.
        ((0.0, 0.0, 1.0 + 1e-3 / 1024, 1.0), 0),
        ((-1.0, 0.0, -0.5, 0.5), 0),
        ((10.0, 0.0, 11.0, 1.0), 0),
        # A point or a line on a border lies in the tile that begins there.
        ((1.0, 0.5, 1.0, 0.5), 1002),
    ],
)
def test_numbers_of_islands(box: tuple[float, ...], number: int) -> None:
    assert island_tiles(np.array([box])).number.tolist() == [number]


def test_an_island_across_borders_tells_where_it_starts_and_ends() -> None:
    found = island_tiles(np.array([[0.9, -0.2, 2.5, 0.3], [0.1, 0.1, 0.2, 0.2]]))
    assert (found.u[0], found.end_u[0], found.v[0], found.end_v[0]) == (0, 2, -1, 0)
    assert found.inside.tolist() == [False, True]


@pytest.mark.parametrize(
    ("box", "home"),
    [
        ((-0.01, 0.0, 0.5, 1.0), (0, 0)),  # reaches over the left border
        ((0.6, 0.2, 1.3, 1.1), (0, 0)),
        ((0.8, 0.2, 1.3, 2.1), (1, 1)),
        ((-0.5, 0.2, 0.49, 0.4), (-1, 0)),
        ((-0.49, 0.2, 0.5, 0.4), (0, 0)),
        ((0.0, 0.0, 3.0, 1.0), (1, 0)),
        ((0.0, 0.0, 1.0, 1.0), (0, 0)),
    ],
)
def test_an_island_is_at_home_where_its_middle_lies(box: tuple[float, ...], home: tuple[int, int]) -> None:
    found = island_tiles(np.array([box]))
    assert (found.home_u[0], found.home_v[0]) == home


def test_both_sides_of_the_slack() -> None:
    boxes = np.array([[0.0, 0.0, 1.009, 1.0], [0.0, 0.0, 1.011, 1.0], [-0.009, 0.2, 0.5, 0.4]])
    assert island_tiles(boxes, slack=0.01).inside.tolist() == [True, False, True]
    assert island_tiles(boxes).inside.tolist() == [False, False, False]


def test_moving_by_whole_tiles_moves_the_tile_and_nothing_else() -> None:
    boxes = np.array([[0.0, 0.25, 1.0, 1.0], [0.3, 0.3, 1.2, 0.5]])
    plain, moved = island_tiles(boxes), island_tiles(boxes + np.array([3.0, 2.0, 3.0, 2.0]))
    assert (moved.u - plain.u).tolist() == [3, 3]
    assert (moved.end_v - plain.end_v).tolist() == [2, 2]
    assert moved.inside.tolist() == plain.inside.tolist()


def test_repeats_are_tile_widths() -> None:
    assert repeats(np.array([[0.0, 0.5, 3.0, 1.0]])).tolist() == [[3.0, 0.5]]
    assert len(island_tiles(np.zeros((0, 4))).number) == 0


@pytest.mark.parametrize("far", [1e19, 1e30, 3e38])
@pytest.mark.filterwarnings("error")
def test_absurd_coordinates_lie_in_the_farthest_tile(far: float) -> None:
    # int64 ends at 9.2e18; what lies beyond must keep its side and have no number. 2**53 is the farthest whole number.
    tiles = island_tiles(np.array([[0.1, -far, far, 0.2], [far, 0.1, far, 0.2]]))
    assert (tiles.v[0], tiles.end_u[0]) == (-(2**53), 2**53)
    assert tiles.u[1] == 2**53
    assert not tiles.number.any()
