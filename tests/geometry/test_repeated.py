"""What comes in again over the borders of a map that repeats."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray

from tidegate.geometry.repeated import other_tiles


def line(x0: float, y0: float, x1: float, y1: float) -> NDArray[np.float64]:
    return np.array([[[x0], [y0]], [[x1], [y1]]])


def copies(columns: NDArray[np.float64], **how: object) -> list[list[float]]:
    found = other_tiles(columns, **how)
    assert found is not None
    assert found[0].tolist() == [0] * len(found[0])
    return [np.round(one, 9).reshape(-1).tolist() for one in np.moveaxis(found[1], 2, 0)]


@pytest.mark.parametrize(
    ("end", "wanted"),
    [
        ((0.9, 0.5), []),
        ((1.0, 0.5), []),  # ends on the border
        ((1.2, 0.5), [[-0.5, 0.5, 0.2, 0.5]]),
        ((-0.2, 0.5), [[1.5, 0.5, 0.8, 0.5]]),
        ((2.5, 0.5), [[-0.5, 0.5, 1.5, 0.5], [-1.5, 0.5, 0.5, 0.5]]),
    ],
)
def test_worked_copies_of_a_level_line(end: tuple[float, float], wanted: list[list[float]]) -> None:
    # The line is level at V 0.5 from U 0.5.
    assert copies(line(0.5, 0.5, *end)) == wanted


def test_a_line_over_a_corner_comes_in_three_times() -> None:
    assert copies(line(0.5, 0.5, 1.5, 1.5)) == [[-0.5, 0.5, 0.5, 1.5], [0.5, -0.5, 1.5, 0.5], [-0.5, -0.5, 0.5, 0.5]]


def test_a_line_upon_the_border_stays() -> None:
    assert copies(line(1.0, 0.2, 1.0, 0.8)) == copies(line(0.0, 0.2, 0.0, 0.8)) == []


def test_a_thing_that_lies_in_another_tile_whole_is_moved_there() -> None:
    assert copies(line(3.25, 0.5, 3.75, 0.5)) == [[0.25, 0.5, 0.75, 0.5]]


def test_texels_and_an_axis_that_is_not_repeated() -> None:
    assert copies(line(60, 10, 70, 40), period=(64.0, 32.0)) == [[-4, 10, 6, 40], [60, -22, 70, 8], [-4, -22, 6, 8]]
    assert copies(line(60, 10, 70, 40), period=(64.0, 32.0), axes=(True, False)) == [[-4, 10, 6, 40]]


def test_too_many_copies_and_none() -> None:
    assert other_tiles(line(0.5, 0.5, 9.5, 0.5), most=9) is None
    assert other_tiles(line(0.5, 0.5, 9.5, 0.5), most=10) is not None
    assert copies(line(np.nan, 0.5, 2.5, 0.5)) == copies(line(0.5, 0.5, np.inf, 0.5)) == []
