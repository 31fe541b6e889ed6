"""The borders of islands: sides with no triangle on the other side in the tile, and the seams among them."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from .corners import corner_points, next_sides
from .edges import edge_faces


class Seams(NamedTuple):
    """sides: (s,) border sides on seams, one a cut edge. length: (s,) of each on the surface. total: their sum."""

    sides: NDArray[np.int64]
    length: NDArray[np.float64]
    total: float


def border_sides(corner_mates: NDArray[np.int32], labels: NDArray[np.int32]) -> NDArray[np.int64]:
    """Numbers 3 t + s of all sides that bound an island, ascending.

    corner_mates: `edges.edge_mates` over ids by position and UV. labels: (m,) island labels.
    """
    return np.flatnonzero((edge_faces(corner_mates) == 1) & np.repeat(labels >= 0, 3))


def side_points(
    columns: NDArray[np.float64], sides: NDArray[np.int64]
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Start and end (d, k) of the named sides (k,), from corner columns (3, d, m). Borders have their island on the left
    where it is not mirrored."""
    return corner_points(columns, sides), corner_points(columns, next_sides(sides))


def seams(borders: NDArray[np.int64], position_mates: NDArray[np.int32], xyz: NDArray[np.float64]) -> Seams:
    """Border sides across which the surface goes on: what was cut to lay the islands flat.

    borders: `border_sides`. position_mates: `edges.edge_mates` over ids by position alone. An edge cut once has two
    border sides and is listed once, by the first. Open borders of the surface itself are no seams.
    """
    cut = borders[edge_faces(position_mates)[borders] > 1]
    edge, first = np.unique(position_mates[cut], return_index=True)
    sides = cut[np.sort(first)]
    start, end = side_points(xyz, sides)
    length = np.sqrt(((end - start) ** 2).sum(axis=0))
    return Seams(sides, length, float(length.sum()) if len(edge) else 0.0)
