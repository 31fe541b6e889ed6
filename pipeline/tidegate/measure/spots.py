"""How many places show a fault, and the one to look at first."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

PLACES = 6  # micrometres


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
