from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray

from tidegate.geometry.side_by_side import moved_by_tiles, side_by_side


def test_ids_of_different_layouts_are_apart_and_none_stays_none() -> None:
    one, two, none = (
        np.array([[0, 1, 2], [2, 1, 4]], np.int32),
        np.array([[0, 1, 1], [-1, -1, -1]], np.int32),
        np.full((1, 3), -1, np.int32),
    )
    assert side_by_side([one, two, none, two]).tolist() == [
        [0, 1, 2], [2, 1, 4], [5, 6, 6], [-1, -1, -1], [-1, -1, -1], [7, 8, 8], [-1, -1, -1],
    ]  # fmt: skip  # a table, read by its rows
    assert side_by_side([one]) is one
    assert side_by_side([]).shape == (0, 3)


@pytest.mark.parametrize("tiles", [np.array([[2, -1], [0, 0]]), np.array([2, -1])])
def test_triangles_are_moved_by_their_own_tile_or_all_by_one(tiles: NDArray[np.int64]) -> None:
    uv = np.array([[[2.25, 2.25], [-0.5, -0.5]]])  # one corner of two triangles
    moved = moved_by_tiles(uv, tiles)
    assert moved[:, :, 0].tolist() == [[0.25, 0.5]]
    assert moved[:, :, 1].tolist() == ([[2.25, -0.5]] if tiles.ndim == 2 else [[0.25, 0.5]])


def test_equal_corners_stay_equal_however_far_they_lie() -> None:
    uv = np.array([[[7.1, 7.1], [3.3, 3.3]]], np.float32).astype(np.float64)
    moved = moved_by_tiles(uv, np.array([[7, 3], [7, 3]]))
    assert (moved[:, :, 0] == moved[:, :, 1]).all()
    assert moved_by_tiles(uv, np.zeros((2, 2), np.int64)) is uv
