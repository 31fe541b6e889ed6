"""Polygons to triangles: a fan where that is right, else the other diagonal, else ear clipping.

A corner in the middle of a straight edge must not become a triangle without area, whose long side would then lie on
the edge of a neighbour.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from .ears import THIN, clip_ears

if TYPE_CHECKING:
    from numpy.typing import NDArray

_AT_ONCE = 1 << 16  # polygons per step, so that memory stays small
_MOST_EARS = 2048  # corners; ear clipping takes time by the square of them
_FLAT = 1e-12  # a turn the wrong way smaller than this share of the polygon's area squared is rounding
_SUSPECT = 0.01  # share of the polygon's area: larger triangles are not thin unless the polygon is


@dataclass(frozen=True, slots=True, eq=False)
class Triangulation:
    """corners: (m, 3) int32 into the corner list, triangles in the order of the polygons. polygon: (m,) int32.

    unclear: polygons that cross themselves, or are too large to cut, and were fanned or cut as well as can be.
    """

    corners: NDArray[np.int32]
    polygon: NDArray[np.int32]
    unclear: tuple[int, ...]


def triangulate(
    positions: NDArray[np.float64],
    vertex: NDArray[np.int32],
    counts: NDArray[np.int32],
    laid: tuple[NDArray[np.float64], NDArray[np.int32]] | None = None,
) -> Triangulation:
    """Cuts polygons into triangles that keep their turning sense.

    positions: (n, 3). vertex: (c,) position of each corner, polygon after polygon. counts: (polygons,) corners of
    each, at least 3. laid: UVs (t, 2) and the one of each corner (c,), -1 for none: of cuts that are right in space, one
    without a triangle that is flat in the layout is taken, where there is one.
    """
    if len(counts) == 0 or int(counts.max()) == 3:
        every = np.arange(3 * len(counts), dtype=np.int32)
        return Triangulation(every.reshape(-1, 3), np.arange(len(counts), dtype=np.int32), ())
    pieces = counts.astype(np.int64) - 2
    first_piece = np.cumsum(pieces) - pieces
    first_corner = np.cumsum(counts, dtype=np.int64) - counts
    out = np.zeros((int(pieces.sum()), 3), dtype=np.int32)
    unclear: list[int] = []
    for size in np.unique(counts).tolist():
        same = np.flatnonzero(counts == size)
        step = max(_AT_ONCE // size, 1)
        for low in range(0, len(same), step):
            some = same[low : low + step]
            base = first_corner[some]
            rows = first_piece[some, None] + np.arange(size - 2)
            out[rows] = base[:, None, None] + _fan(size)
            if size > 3:
                corners = base[:, None] + np.arange(size)
                points = positions[vertex[corners]]
                spots = None if laid is None else _spots(*laid, corners)
                fits = _fits(points, _fan(size), solid=True)
                if spots is not None:
                    fits &= ~_flat_in_layout(spots, _fan(size))
                for i in np.flatnonzero(~fits).tolist():
                    cut, clear = _cut(points[i], None if spots is None else spots[i])
                    out[rows[i]] = base[i] + cut
                    if not clear:
                        unclear.append(int(some[i]))
    return Triangulation(out, np.repeat(np.arange(len(counts), dtype=np.int32), pieces), tuple(sorted(unclear)))


def _spots(uv: NDArray[np.float64], index: NDArray[np.int32], corners: NDArray[np.int64]) -> NDArray[np.float64] | None:
    """(p, corners, 2) where the corners lie in the layout, all at 0 where one has no place; None without any UVs."""
    if not len(uv):
        return None
    at = index[corners]
    spots = uv.take(at, axis=0, mode="wrap")
    if at.min() < 0:
        spots[(at < 0).any(axis=1)] = 0.0
    return spots


def _fan(size: int) -> NDArray[np.int64]:
    middle = np.arange(1, size - 1)
    return np.stack((np.zeros_like(middle), middle, middle + 1), axis=1)


def _fits(points: NDArray[np.float64], cut: NDArray[np.int64], solid: bool) -> NDArray[np.bool_]:
    """Whether no triangle of the cut turns against its polygon and, where `solid`, all have an area.

    points: (p, corners, 3). Points that are no numbers fit.
    """
    a, b, c = points[:, cut[:, 0]], points[:, cut[:, 1]], points[:, cut[:, 2]]
    with np.errstate(invalid="ignore", over="ignore"):
        normals = np.cross(b - a, c - a)
        whole = normals.sum(axis=1)  # twice the area vector, the same for every cut
        along = np.einsum("pti,pi->pt", normals, whole)
        area = np.einsum("pi,pi->p", whole, whole)
        fits: NDArray[np.bool_] = ~(along < -_FLAT * area[:, None]).any(axis=1)
        if solid:
            polygon, triangle = np.nonzero(along <= _SUSPECT * area[:, None])
            twice = np.sqrt((normals[polygon, triangle] ** 2).sum(axis=1))
            fits[polygon[twice <= THIN * _longest(a, b, c, polygon, triangle)]] = False
    return fits


def _flat_in_layout(spots: NDArray[np.float64], cut: NDArray[np.int64]) -> NDArray[np.bool_]:
    """Whether a triangle of the cut has no area in the layout though the polygon has. spots: (p, corners, 2)."""
    u, v = np.ascontiguousarray(spots[:, :, 0]), np.ascontiguousarray(spots[:, :, 1])
    flat = np.zeros(len(spots), np.bool_)
    with np.errstate(invalid="ignore", over="ignore"):
        au, av = u[:, cut[:, 0]], v[:, cut[:, 0]]
        turn = (u[:, cut[:, 1]] - au) * (v[:, cut[:, 2]] - av) - (v[:, cut[:, 1]] - av) * (u[:, cut[:, 2]] - au)
        whole = np.abs(turn.sum(axis=1))
        polygon, triangle = np.nonzero(np.abs(turn) <= _SUSPECT * whole[:, None])
        if not len(polygon):
            return flat
        a, b, c = spots[:, cut[:, 0]], spots[:, cut[:, 1]], spots[:, cut[:, 2]]
        thin = np.abs(turn[polygon, triangle]) <= THIN * _longest(a, b, c, polygon, triangle)
        flat[polygon[thin]] = True
        box = spots.max(axis=1) - spots.min(axis=1)
        flat &= whole > _SUSPECT * (box * box).sum(axis=1)  # of a strip or a point no cut has an area
    return flat


def _longest(
    a: NDArray[np.float64],
    b: NDArray[np.float64],
    c: NDArray[np.float64],
    polygon: NDArray[np.int64],
    triangle: NDArray[np.int64],
) -> NDArray[np.float64]:
    """Square of the longest side of some triangles, whose corners are a, b, c (p, t, axes)."""
    a, b, c = (corner[polygon, triangle] for corner in (a, b, c))
    longest: NDArray[np.float64] = np.max([((u - v) ** 2).sum(axis=1) for u, v in ((a, b), (b, c), (c, a))], axis=0)
    return longest


def _cut(points: NDArray[np.float64], spots: NDArray[np.float64] | None) -> tuple[NDArray[np.int64], bool]:
    """Triangles of one polygon that a fan from its first corner does not fit well, and whether it was a simple one.

    spots: (corners, 2) in the layout, where there is one.
    """
    size = len(points)
    fan = _fan(size)
    fan_will_do = bool(_fits(points[None], fan, solid=False)[0])
    if size == 4:
        other = np.array([[1, 2, 3], [1, 3, 0]])
        solid = bool(_fits(points[None], fan, solid=True)[0])
        if solid and spots is not None and _flat_in_layout(spots[None], other)[0]:
            return fan, True  # neither has an area there
        if _fits(points[None], other, solid=fan_will_do)[0]:
            return other, True
        return fan, fan_will_do
    if size > _MOST_EARS:
        return fan, fan_will_do
    laid = None if spots is None else [(float(u), float(v)) for u, v in spots]
    ears, clear = clip_ears(_flattened(points), laid)
    return (fan, True) if fan_will_do and not clear else (ears, clear)


def _flattened(points: NDArray[np.float64]) -> list[tuple[float, float]]:
    """The polygon seen along the axis it faces most, turned so that it runs counter-clockwise."""
    with np.errstate(invalid="ignore", over="ignore"):
        turned = np.roll(points, -1, axis=0)
        normal = np.cross(points - points[0], turned - points[0]).sum(axis=0)
    axis = int(np.argmax(np.abs(normal)))
    x, y = (axis + 1) % 3, (axis + 2) % 3
    if normal[axis] < 0:
        x, y = y, x
    return [(float(point[x]), float(point[y])) for point in points]
