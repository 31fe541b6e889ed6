"""How many places show a fault, the one to look at first, and the triangles it is about."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

PLACES = 6  # micrometres
MOST_RUNS = 20_000  # of triangles kept with a finding; what lies beyond is neither hatched nor explains anything


class Spots(NamedTuple):
    """total: places. point: metres, the one with the lowest x, then y, then z, so that numbering never decides; or None."""

    total: int
    point: tuple[float, float, float] | None


def spots_of(points: NDArray[np.float64]) -> Spots:
    """points: (n, 3) metres."""
    if not len(points):
        return Spots(0, None)
    left = np.round(points, PLACES) + 0.0
    for axis in range(3):
        left = left[left[:, axis] == left[:, axis].min()]
        if not len(left):  # NaN alone
            return Spots(len(points), None)
    x, y, z = left[0].tolist()
    return Spots(len(points), (x, y, z))


def runs_of(
    rows: NDArray[np.int64], parts: Sequence[int], triangles: Sequence[int]
) -> tuple[tuple[int, int, int], ...]:
    """(part, first, stop) of triangles that follow one another, ascending, at most `MOST_RUNS`.

    rows: triangles of several parts, counted through. parts: number of each part. triangles: how many each has.
    """
    rows = np.unique(rows)
    if not len(rows):
        return ()
    starts = np.cumsum([0, *triangles])
    member = np.searchsorted(starts, rows, side="right") - 1
    opens = np.flatnonzero(np.append(True, (np.diff(rows) != 1) | (np.diff(member) != 0)))
    stops = np.append(opens[1:], len(rows))
    return tuple(
        (parts[member[low]], int(rows[low] - starts[member[low]]), int(rows[high - 1] - starts[member[low]]) + 1)
        for low, high in zip(opens[:MOST_RUNS].tolist(), stops[:MOST_RUNS].tolist(), strict=True)
    )
