"""Which way round islands lie in the tile: as they should, mirrored, or with triangles folded over."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

_EVEN = 1e-9  # share of the area below which both windings of an island count as balanced


class Winding(NamedTuple):
    """sign: (i,) int8, +1 as it should be, -1 mirrored, 0 no UV area at all. folded: (i,) int64 triangles whose winding
    differs from their island's. flat: (i,) int64 triangles without UV area. folded_triangles: (m,) which they are."""

    sign: NDArray[np.int8]
    folded: NDArray[np.int64]
    flat: NDArray[np.int64]
    folded_triangles: NDArray[np.bool_]


def island_winding(
    signed: NDArray[np.float64], flat: NDArray[np.bool_], labels: NDArray[np.int32], count: int
) -> Winding:
    """Winding of every island.

    signed: (m,) signed UV areas with V up, of triangles that run counter-clockwise seen from their front.
    flat: (m,) `areas.flat_in_tile`. labels: (m,) int32. The larger area decides for the island; where the two windings
    balance, the larger number of triangles, and where these balance too, the unmirrored.
    """
    inside = labels >= 0
    rows = labels[inside]
    area = np.where(flat, 0.0, signed)[inside]
    direction = np.sign(area).astype(np.int8)
    total = np.bincount(rows, weights=area, minlength=count)
    whole = np.bincount(rows, weights=np.abs(area), minlength=count)
    plus = np.bincount(rows[direction > 0], minlength=count)
    minus = np.bincount(rows[direction < 0], minlength=count)
    sign = np.where(total < 0.0, -1, 1)
    even = np.abs(total) <= _EVEN * whole
    sign[even] = np.where(minus > plus, -1, 1)[even]
    sign[plus + minus == 0] = 0
    folded = np.zeros(len(labels), np.bool_)
    folded[inside] = (direction != 0) & (direction != sign[rows])
    return Winding(
        sign.astype(np.int8),
        np.where(sign > 0, minus, plus).astype(np.int64) * (sign != 0),
        np.bincount(rows[direction == 0], minlength=count).astype(np.int64),
        folded,
    )
