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
