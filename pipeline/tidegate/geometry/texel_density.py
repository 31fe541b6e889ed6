"""Texels of a map per metre of surface: sqrt(sum of UV area x width x height / sum of surface area).

It is undefined where either area is zero (a prop that takes its colours from points of a palette, say); that is NaN
here, never a division by zero.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from .areas import island_sums


class DensitySpread(NamedTuple):
    """Inside each island, weighted by surface: low, high (i,) the 5th and 95th percentile of density; NaN undefined."""

    low: NDArray[np.float64]
    high: NDArray[np.float64]


def texel_density(
    uv_area: NDArray[np.float64], surface: NDArray[np.float64], width: float, height: float
) -> NDArray[np.float64]:
    """Texels per unit of length, of triangles or of summed islands alike.

    uv_area: unsigned, in UV units; surface: in squares of the unit of length, of the same shape; width, height: texels.
    NaN where one of both areas is zero.
    """
    uv_area, surface = np.asarray(uv_area, np.float64), np.asarray(surface, np.float64)
    with np.errstate(divide="ignore", invalid="ignore"):
        density = np.sqrt(uv_area * (width * height) / surface)
    return np.where((uv_area > 0.0) & (surface > 0.0), density, np.nan)


def density_spread(
    density: NDArray[np.float64],
    surface: NDArray[np.float64],
    labels: NDArray[np.int32],
    count: int,
    low: float = 0.05,
    high: float = 0.95,
) -> DensitySpread:
    """How far density differs inside each island: percentiles of the triangles' density (m,), weighted by surface (m,).

    A percentile is the smallest density such that at least that share of the island's surface is not denser.
    """
    known = np.flatnonzero((labels >= 0) & np.isfinite(density) & (surface > 0.0))
    order = known[np.lexsort((density[known], labels[known]))]
    rows = labels[order]
    run = np.cumsum(surface[order])
    last = np.searchsorted(rows, np.arange(count), side="right")
    first = np.searchsorted(rows, np.arange(count), side="left")
    before = np.where(first > 0, run[np.maximum(first, 1) - 1], 0.0) if len(run) else np.zeros(count)
    found = []
    for share in (low, high):
        values = np.full(count, np.nan)
        there = np.flatnonzero(last > first)
        until = run[last[there] - 1]
        goal = before[there] + share * (until - before[there])
        goal = np.minimum(goal, until)
        at = np.clip(np.searchsorted(run, goal, side="left"), first[there], last[there] - 1)
        values[there] = density[order[at]]
        found.append(values)
    return DensitySpread(found[0], found[1])


def density_gradient(
    density: NDArray[np.float64],
    surface: NDArray[np.float64],
    uv: NDArray[np.float64],
    labels: NDArray[np.int32],
    count: int,
) -> NDArray[np.float64]:
    """(count, 2) how density changes across each island, in doublings per UV unit along U and along V.

    Least squares of log2(density) over the triangles' centres in the tile, weighted by surface area: (1, 0) means the
    texels get twice as dense for every tile width to the right. (0, 0) for an island with too few triangles to tell,
    NaN for one without density.
    """
    known = (labels >= 0) & np.isfinite(density) & (surface > 0.0)
    rows = labels[known]
    weight = surface[known]
    value = np.log2(density[known])
    x = (uv[0, 0] + uv[1, 0] + uv[2, 0])[known] / 3.0
    y = (uv[0, 1] + uv[1, 1] + uv[2, 1])[known] / 3.0
    total = island_sums(weight, rows, count)
    with np.errstate(divide="ignore", invalid="ignore"):
        for column in (x, y, value):
            column -= (island_sums(weight * column, rows, count) / total)[rows]
        xx, xy, yy = (island_sums(weight * p, rows, count) for p in (x * x, x * y, y * y))
        xz, yz = island_sums(weight * x * value, rows, count), island_sums(weight * y * value, rows, count)
        determinant = xx * yy - xy * xy
        gradient = np.stack([(xz * yy - yz * xy) / determinant, (yz * xx - xz * xy) / determinant], axis=1)
    # Centres on one line leave the direction across it open: the slope along the line is all there is.
    line = determinant <= 1e-9 * (xx + yy) ** 2
    spread = xx + yy
    with np.errstate(divide="ignore", invalid="ignore"):
        along = np.stack([xz / spread, yz / spread], axis=1)
    gradient[line] = np.where(spread[line, None] > 0.0, along[line], 0.0)
    gradient[total <= 0.0] = np.nan
    return gradient
