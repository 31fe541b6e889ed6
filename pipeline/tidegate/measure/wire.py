"""The wire of a picture's layout as a guide sheet draws it: points along it, and which way is across."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from tidegate.geometry.corners import corner_columns
from tidegate.geometry.edges import edge_faces
from tidegate.geometry.quads import dihedral_degrees, likely_diagonals, polygon_diagonals
from tidegate.measure.islands import LaidOut
from tidegate.model.facts import IslandColumns, Picture
from tidegate.model.mesh import MeshPart

FLAT = 20.0  # degrees: along edges that bend more, paint has lines of its own; common practice, no source
_END = 2.0  # texels left out at both ends of an edge, where lines cross


class Wire(NamedTuple):
    """Segments (4, n) u0, v0, u1, v1 in 0..1 of the tile, V up. inner: between faces that hardly bend, without diagonals of
    quads. bent: between faces that bend more, from where light and wear draw lines of their own. border: of islands."""

    inner: NDArray[np.float64]
    bent: NDArray[np.float64]
    border: NDArray[np.float64]

    @property
    def all(self) -> NDArray[np.float64]:
        """Every line."""
        return np.concatenate(self, axis=1)


def wire_of(columns: IslandColumns, picture: Picture, layouts: Sequence[LaidOut], parts: Sequence[MeshPart]) -> Wire:
    """parts: in the order of `LaidOut.part`."""
    here = np.zeros(len(columns) + 1, bool)
    here[picture.islands] = True
    inner, bent, border = [np.zeros((4, 0))], [np.zeros((4, 0))], [np.zeros((4, 0))]
    for layout in layouts:
        if layout.layer != picture.uv_layer or layout.part not in picture.parts:
            continue
        uv, mesh = layout.uv, parts[layout.part]
        if columns.corner.any():
            uv = uv - columns.corner[layout.island].T[None].astype(np.float64)
        xyz = corner_columns(mesh.positions, mesh.triangles)
        mates = layout.mates
        diagonal = polygon_diagonals(mesh.polygon, mates) if mesh.polygon is not None else likely_diagonals(xyz, mates)
        low, _, degrees = dihedral_degrees(xyz, mates)
        for bends, into in ((~(degrees > FLAT), inner), (degrees > FLAT, bent)):
            sides = low[bends & ~diagonal[low]]
            into.append(_segments(uv, sides[here[layout.island[sides // 3]]]))
        ends = np.flatnonzero(edge_faces(mates) == 1)
        border.append(_segments(uv, ends[here[layout.island[ends // 3]]]))
    return Wire(*(np.concatenate(kind, axis=1) for kind in (inner, bent, border)))


def points_along(
    segments: NDArray[np.float64], size: tuple[int, int]
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Points a texel apart (n, 2), x right and y down from the upper left, and unit vectors across the line there.

    segments: of `Wire`. size: width, height in texels.
    """
    start = np.stack([segments[0] * size[0], (1 - segments[1]) * size[1]], axis=1)
    end = np.stack([segments[2] * size[0], (1 - segments[3]) * size[1]], axis=1)
    length = np.linalg.norm(end - start, axis=1)
    kept = np.isfinite(length) & (length > 2 * _END + 1)
    start, end, length = start[kept], end[kept], length[kept]
    count = np.floor(length - 2 * _END).astype(np.int64)
    edge = np.repeat(np.arange(len(count)), count)
    at = _END + 0.5 + np.arange(len(edge)) - np.repeat(np.cumsum(count) - count, count)
    along = (end - start) / length[:, None]
    return start[edge] + along[edge] * at[:, None], np.stack([-along[:, 1], along[:, 0]], axis=1)[edge]


def wire_mask(wire: Wire, size: tuple[int, int]) -> NDArray[np.bool_]:
    """(height, width) True on every line, a texel wide. size: width, height."""
    width, height = size
    mask = np.zeros((height, width), dtype=bool)
    x0, y0, x1, y1 = wire.all * np.array([[width], [height], [width], [height]], float)
    steps = np.nan_to_num(np.ceil(2 * np.maximum(np.abs(x1 - x0), np.abs(y1 - y0)))).astype(np.int64) + 1
    line = np.repeat(np.arange(len(steps)), steps)
    at = (np.arange(len(line)) - np.repeat(np.cumsum(steps) - steps, steps)) / np.maximum(steps - 1, 1)[line]
    x, y = x0[line] + (x1 - x0)[line] * at, height - y0[line] - (y1 - y0)[line] * at
    column, row = np.floor(x).astype(np.int64), np.floor(y).astype(np.int64)
    seen = (column >= 0) & (column < width) & (row >= 0) & (row < height)
    mask[row[seen], column[seen]] = True
    return mask


def _segments(uv: NDArray[np.float64], sides: NDArray[np.int64]) -> NDArray[np.float64]:
    triangle, corner = sides // 3, sides % 3
    return np.concatenate([uv[corner, :, triangle].T, uv[(corner + 1) % 3, :, triangle].T])
