"""What heat maps show: density and stretch of every triangle, and the range their scale covers."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from tidegate.draw.placed import Placed
from tidegate.geometry.areas import surface_areas, uv_areas
from tidegate.geometry.corners import corner_columns
from tidegate.geometry.stretch import singular_values
from tidegate.model.facts import Picture


@dataclass(frozen=True, slots=True, eq=False)
class HeatValues:
    """value: (m,) of every placed triangle, NaN where there is none. low, high: ends of the scale. unit: behind numbers."""

    title: str
    unit: str
    value: NDArray[np.float64]
    low: float
    high: float


_NARROWEST = (
    2.0  # a scale covers at least this factor, or small differences would look large (common practice, no source)
)
_TAIL = 0.005  # share of the layout at either end that may lie beyond the scale


def density_values(placed: Placed, picture: Picture) -> HeatValues:
    """Texels per metre of every triangle."""
    value, area = np.full(len(placed.row), np.nan), np.zeros(len(placed.row))
    start = 0
    for layout, here in placed.pieces:
        uv = np.abs(uv_areas(layout.uv[:, :, here])) * (picture.width * picture.height)
        world = surface_areas(corner_columns(layout.mesh.positions, layout.mesh.triangles[here]))
        known = (uv > 0.0) & (world > 0.0) & np.isfinite(world)
        piece = slice(start, start + len(here))
        value[piece][known] = np.sqrt(uv[known] / world[known])
        area[piece] = uv
        start += len(here)
    low, high = _range(value, area)
    middle = math.sqrt(low) * math.sqrt(high)  # apart, since of absurd sizes the product is no number
    if high / low < _NARROWEST:
        low, high = middle / math.sqrt(_NARROWEST), middle * math.sqrt(_NARROWEST)
    return HeatValues("Texel density", "px/m", value, low, high)


def stretch_values(placed: Placed, picture: Picture) -> HeatValues:
    """Longer over shorter side that a square texel has on the surface; 1 is a square."""
    value, area = np.full(len(placed.row), np.nan), np.zeros(len(placed.row))
    start = 0
    for layout, here in placed.pieces:
        uv = layout.uv[:, :, here]
        xyz = corner_columns(layout.mesh.positions, layout.mesh.triangles[here])
        larger, smaller = singular_values(uv, xyz, picture.width, picture.height)
        known = np.isfinite(larger) & (smaller > 0.0)
        piece = slice(start, start + len(here))
        value[piece][known] = larger[known] / smaller[known]
        area[piece] = np.abs(uv_areas(uv))
        start += len(here)
    _, high = _range(value, area)
    return HeatValues("Stretch", "to 1", value, 1.0, max(_NARROWEST, high))


def _range(value: NDArray[np.float64], weight: NDArray[np.float64]) -> tuple[float, float]:
    """Values between which almost all of the weight lies; 1 and 1 when nothing has a value."""
    known = np.flatnonzero(np.isfinite(value) & (value > 0.0) & (weight > 0.0))
    if not len(known):
        return 1.0, 1.0
    order = known[np.argsort(value[known], kind="stable")]
    share = np.cumsum(weight[order])
    share /= share[-1]
    low = order[min(int(np.searchsorted(share, _TAIL)), len(order) - 1)]
    high = order[min(int(np.searchsorted(share, 1.0 - _TAIL)), len(order) - 1)]
    return float(value[low]), float(value[high])
