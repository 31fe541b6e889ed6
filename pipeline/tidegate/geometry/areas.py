"""Areas of triangles in the tile and on the surface, and sums, boxes and centres over islands.

uv: (3, 2, m) and xyz: (3, 3, m) are corner columns (`corners.corner_columns`). Triangles with label -1 belong to no
island and enter no sum. Sums run in the order of the triangles.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from .slivers import SINGLE_SPACING, without_area

_BLOCK = 1 << 14  # triangles at a time: what is in work stays in the processor's cache


def uv_areas(uv: NDArray[np.float64]) -> NDArray[np.float64]:
    """Signed UV area (m,): positive for corners that run counter-clockwise with V up (shoelace formula)."""
    doubled: NDArray[np.float64] = (uv[1, 0] - uv[0, 0]) * (uv[2, 1] - uv[0, 1])
    doubled -= (uv[2, 0] - uv[0, 0]) * (uv[1, 1] - uv[0, 1])
    doubled *= 0.5
    return doubled


def flat_in_tile(uv: NDArray[np.float64], signed: NDArray[np.float64]) -> NDArray[np.bool_]:
    """(m,) whether a triangle has no UV area that can be told from rounding.

    Exports store UVs in single precision, so a triangle whose height over its longest side is not above the spacing
    of such numbers at its coordinates has neither area nor winding. signed: `uv_areas(uv)`. NaN is not flat.
    """
    flat = np.zeros(len(signed), np.bool_)
    reach = float(np.nanmax(np.abs(uv))) if uv.size and not np.isnan(uv).all() else 0.0
    # No side is longer than 2 sqrt(2) times the reach: most triangles are settled without looking at their sides.
    near = np.flatnonzero(2.0 * np.abs(signed) <= 3.0 * reach * reach * SINGLE_SPACING)
    flat[near] = without_area(uv[:, :, near])
    return flat


def cross_products(xyz: NDArray[np.float64]) -> NDArray[np.float64]:
    """(3, m): product of the first two sides of each triangle, along its front normal, twice its area long."""
    product = np.empty(xyz.shape[1:])
    for start in range(0, xyz.shape[2], _BLOCK):
        part = slice(start, start + _BLOCK)
        a = xyz[1, :, part] - xyz[0, :, part]
        b = xyz[2, :, part] - xyz[0, :, part]
        np.subtract(a[1] * b[2], a[2] * b[1], out=product[0, part])
        np.subtract(a[2] * b[0], a[0] * b[2], out=product[1, part])
        np.subtract(a[0] * b[1], a[1] * b[0], out=product[2, part])
    return product


def surface_areas(xyz: NDArray[np.float64]) -> NDArray[np.float64]:
    """Area (m,) of each triangle in the square of the unit of xyz."""
    return areas_of(cross_products(xyz))


def areas_of(product: NDArray[np.float64]) -> NDArray[np.float64]:
    """Area (m,) of each triangle from the product (3, m) of two of its sides."""
    square: NDArray[np.float64] = product[0] * product[0]
    square += product[1] * product[1]
    square += product[2] * product[2]
    np.sqrt(square, out=square)
    square *= 0.5
    return square


def island_sums(values: NDArray[np.float64], labels: NDArray[np.int32], count: int) -> NDArray[np.float64]:
    """(count,) sum of values (m,) over the triangles of each island."""
    inside = _with_island(labels)
    sums = np.bincount(labels[inside], weights=values[inside], minlength=count)
    return sums.astype(np.float64, copy=False)  # bincount of nothing gives integers


def _with_island(labels: NDArray[np.int32]) -> NDArray[np.int64] | slice:
    """What picks the triangles that have an island: where all have, the whole array, which costs nothing."""
    if len(labels) and int(labels.min()) < 0:
        return np.flatnonzero(labels >= 0)
    return slice(None)


def island_boxes(uv: NDArray[np.float64], labels: NDArray[np.int32], count: int) -> NDArray[np.float64]:
    """(count, 4) box of each island in the tile: u0, v0, u1, v1. Rows without triangles are NaN."""
    boxes = np.full((count, 4), np.nan)
    low, high = np.full(count, np.inf), np.full(count, -np.inf)
    inside = _with_island(labels)
    rows = labels[inside].astype(np.int64)
    for axis in range(2):
        least = np.minimum(np.minimum(uv[0, axis], uv[1, axis]), uv[2, axis])
        most = np.maximum(np.maximum(uv[0, axis], uv[1, axis]), uv[2, axis])
        low.fill(np.inf)
        high.fill(-np.inf)
        np.minimum.at(low, rows, least[inside])
        np.maximum.at(high, rows, most[inside])
        there = low <= high
        boxes[there, axis] = low[there]
        boxes[there, axis + 2] = high[there]
    return boxes


def island_centres(
    xyz: NDArray[np.float64], areas: NDArray[np.float64], labels: NDArray[np.int32], count: int
) -> NDArray[np.float64]:
    """(count, 3) centre of each island's surface, weighted by area; of an island without area, of its corners."""
    total = island_sums(areas, labels, count)
    weights = np.where(_of_island(total, labels) > 0.0, areas, 1.0)
    total = island_sums(weights, labels, count)
    centres = np.full((count, 3), np.nan)
    there = total > 0.0
    for axis in range(3):
        middle = (xyz[0, axis] + xyz[1, axis] + xyz[2, axis]) / 3.0
        centres[there, axis] = island_sums(middle * weights, labels, count)[there] / total[there]
    return centres


def _of_island(values: NDArray[np.float64], labels: NDArray[np.int32]) -> NDArray[np.float64]:
    if len(values) == 0:
        return np.zeros(len(labels))
    return values[labels]  # label -1 reads the last row; its triangle enters no sum
