"""Triangles without area, and slivers: so thin that their height is a small part of their longest side."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

_BLOCK = 1 << 14  # triangles at a time: what is in work stays in the processor's cache
SINGLE_SPACING = 2.0**-23  # of single-precision numbers next to 1


def thinness(columns: NDArray[np.float64]) -> NDArray[np.float64]:
    """(m,) height of each triangle over its longest side: 0.866 for equal sides, 0 without area, NaN for a row of NaN.

    columns: (3, d, m) corner columns, d 2 or 3. A triangle whose longest side is 0 has thinness 0.
    """
    thin = np.empty(columns.shape[2])
    for start in range(0, len(thin), _BLOCK):
        thin[start : start + _BLOCK] = _thinness(columns[:, :, start : start + _BLOCK])
    return thin


def _thinness(columns: NDArray[np.float64]) -> NDArray[np.float64]:
    sides = (columns[1] - columns[0], columns[2] - columns[1], columns[0] - columns[2])
    squares = [sum_of_squares(side) for side in sides]
    longest = np.maximum(np.maximum(squares[0], squares[1]), squares[2])
    a, b = sides[0], -sides[2]
    if len(a) == 2:
        doubled = np.abs(a[0] * b[1] - a[1] * b[0])
    else:
        doubled = np.sqrt(
            (a[1] * b[2] - a[2] * b[1]) ** 2 + (a[2] * b[0] - a[0] * b[2]) ** 2 + (a[0] * b[1] - a[1] * b[0]) ** 2
        )
    thin = np.where(np.isnan(longest), np.nan, 0.0)
    np.divide(doubled, longest, out=thin, where=longest > 0.0)
    return thin


def without_area(columns: NDArray[np.float64], thin: NDArray[np.float64] | None = None) -> NDArray[np.bool_]:
    """(m,) whether a triangle's height cannot be told from the rounding of single-precision coordinates.

    Files store single precision, so corners meant to lie on one line miss it by about 2^-23 of their distance from the
    origin. thin: `thinness(columns)`, when at hand.
    """
    if thin is None:
        thin = thinness(columns)
    reach = np.abs(columns).max(axis=(0, 1)) if columns.size else np.zeros(columns.shape[2])
    sides = (columns[1] - columns[0], columns[2] - columns[1], columns[0] - columns[2])
    longest = np.sqrt(np.maximum.reduce([sum_of_squares(side) for side in sides]))
    flat: NDArray[np.bool_] = thin * longest <= reach * SINGLE_SPACING
    return flat


def sum_of_squares(vectors: NDArray[np.float64]) -> NDArray[np.float64]:
    """(m,) squared length of the vectors (d, m)."""
    total: NDArray[np.float64] = vectors[0] * vectors[0]
    for axis in range(1, len(vectors)):
        total = total + vectors[axis] * vectors[axis]
    return total
