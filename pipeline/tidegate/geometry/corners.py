"""Coordinates of triangle corners as columns, so that every formula runs over long unbroken rows of numbers."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray


def corner_columns(points: NDArray[np.float64], triangles: NDArray[np.int32]) -> NDArray[np.float64]:
    """(3, d, m) float64: coordinate k of corner c of triangle t at [c, k, t].

    points: (n, d) float64. triangles: (m, 3) into them; a row of -1 (no UVs) becomes NaN.
    """
    columns = np.empty((3, points.shape[1], len(triangles)))
    if len(points) == 0:
        columns.fill(np.nan)
        return columns
    axes = [np.ascontiguousarray(points[:, axis], np.float64) for axis in range(points.shape[1])]
    for corner in range(3):
        rows = triangles[:, corner].astype(np.int64)
        for axis, values in enumerate(axes):
            np.take(values, rows, out=columns[corner, axis], mode="wrap")
    if len(triangles) and int(triangles.min()) < 0:
        columns[:, :, triangles.min(axis=1) < 0] = np.nan
    return columns


def corner_points(columns: NDArray[np.float64], sides: NDArray[np.int64]) -> NDArray[np.float64]:
    """(d, k): the corners at which the named sides (k,), 3 t + s, begin. columns: (3, d, m)."""
    _, dimensions, triangles = columns.shape
    flat = columns.reshape(-1)
    first = sides % 3 * (dimensions * triangles) + sides // 3
    return np.stack([flat.take(first + axis * triangles) for axis in range(dimensions)])


def next_sides(sides: NDArray[np.int64]) -> NDArray[np.int64]:
    """The side that follows each one around its triangle: it begins where the named one ends."""
    return np.where(sides % 3 == 2, sides - 2, sides + 1)
