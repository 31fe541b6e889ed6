"""How far two outlines are apart: the farthest that a corner of either lies from the border of the other.

That is the Hausdorff distance of polygons but for where it is taken midway along a side, which is never farther than at
the ends of both: outlines that agree to a distance at all corners agree to it everywhere, unless a side is bridged by a
detour without corners.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from .batches import batches

_AT_ONCE = 1 << 19  # pairs of a corner and a side measured at a time
_MOST = 1 << 24  # pairs measured for two outlines; of a longer one some corners are measured, evenly chosen


def outline_distance(
    one: NDArray[np.float64],
    other: NDArray[np.float64],
    one_sides: tuple[NDArray[np.float64], NDArray[np.float64]],
    other_sides: tuple[NDArray[np.float64], NDArray[np.float64]],
) -> float:
    """one, other: (2, c) corners of the outlines. one_sides, other_sides: starts and ends (2, s) of their border sides.
    Infinite when an outline is empty."""
    return max(_farthest(one, other_sides), _farthest(other, one_sides))


def _farthest(corners: NDArray[np.float64], sides: tuple[NDArray[np.float64], NDArray[np.float64]]) -> float:
    start, end = sides
    if not corners.size or not start.size:
        return float("inf")
    measured = max(16, _MOST // start.shape[1])
    corners = corners[:, :: -(-corners.shape[1] // measured)]
    along = end - start
    length = np.maximum((along * along).sum(axis=0), np.finfo(np.float64).tiny)
    farthest = 0.0
    for first, stop in batches(np.full(corners.shape[1], start.shape[1], np.int64), _AT_ONCE):
        away = corners[:, first:stop, None] - start[:, None, :]
        share = np.clip((away * along[:, None, :]).sum(axis=0) / length, 0.0, 1.0)
        away -= share * along[:, None, :]
        nearest = np.sqrt((away * away).sum(axis=0).min(axis=1))
        farthest = max(farthest, float(nearest.max()))
    return farthest
