"""Layouts of several parts put together as one: each moved onto the first tile, corner ids kept apart."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray


def moved_by_tiles(uv: NDArray[np.float64], tiles: NDArray[np.int64]) -> NDArray[np.float64]:
    """Corner columns (c, 2, m) moved down by whole tiles: tiles (m, 2) or (2,) whole U and V of each triangle, or of all.

    Taking off a whole number is the same for equal corners, so nothing that was joined comes apart.
    """
    if not tiles.any():
        return uv
    by = tiles.T[None].astype(np.float64) if tiles.ndim == 2 else tiles.astype(np.float64)[None, :, None]
    moved: NDArray[np.float64] = uv - by
    return moved


def side_by_side(corners: Sequence[NDArray[np.int32]]) -> NDArray[np.int32]:
    """Welded ids (m, 3) of several layouts in one list, those of different layouts apart; -1 stays."""
    if len(corners) == 1:
        return corners[0]
    if not corners:
        return np.zeros((0, 3), np.int32)
    starts = np.cumsum([0, *(int(ids.max(initial=-1)) + 1 for ids in corners[:-1])])
    moved = [np.where(ids < 0, ids, ids + start) for ids, start in zip(corners, starts.tolist(), strict=True)]
    return np.concatenate(moved).astype(np.int32)
