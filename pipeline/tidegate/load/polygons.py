"""Polygons to triangles: a fan where that is right, else the other diagonal, else ear clipping.

A corner in the middle of a straight edge must not become a triangle without area, whose long side would then lie on
the edge of a neighbour.

Ear clipping: G. H. Meisters, "Polygons have ears", American Mathematical Monthly 82 (1975), 648-651: every simple
polygon of more than three corners has two ears, so cutting one after the other ends.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

_AT_ONCE = 1 << 16  # polygons per step, so that memory stays small
_MOST_EARS = 2048  # corners; ear clipping takes time by the square of them
_FLAT = 1e-12  # a turn the wrong way smaller than this share of the polygon's area squared is rounding
_THIN = 1e-6  # height over longest side below which a triangle has no area worth the name; six decimals keep no more
_SUSPECT = 0.01  # share of the polygon's area: larger triangles are not thin unless the polygon is


@dataclass(frozen=True, slots=True, eq=False)
class Triangulation:
    """corners: (m, 3) int32 into the corner list, triangles in the order of the polygons. polygon: (m,) int32.

    unclear: polygons that cross themselves, or are too large to cut, and were fanned or cut as well as can be.
    """

    corners: NDArray[np.int32]
    polygon: NDArray[np.int32]
    unclear: tuple[int, ...]


def triangulate(positions: NDArray[np.float64], vertex: NDArray[np.int32], counts: NDArray[np.int32]) -> Triangulation:
    """Cuts polygons into triangles that keep their turning sense.

    positions: (n, 3). vertex: (c,) position of each corner, polygon after polygon. counts: (polygons,) corners of
    each, at least 3.
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
                points = positions[vertex[base[:, None] + np.arange(size)]]
                for i in np.flatnonzero(~_fits(points, _fan(size), solid=True)).tolist():
                    cut, clear = _cut(points[i])
                    out[rows[i]] = base[i] + cut
                    if not clear:
                        unclear.append(int(some[i]))
    return Triangulation(out, np.repeat(np.arange(len(counts), dtype=np.int32), pieces), tuple(sorted(unclear)))


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
            a, b, c, normal = (values[polygon, triangle] for values in (a, b, c, normals))
            longest = np.max([((one - two) ** 2).sum(axis=1) for one, two in ((a, b), (b, c), (c, a))], axis=0)
            fits[polygon[np.sqrt((normal**2).sum(axis=1)) <= _THIN * longest]] = False
    return fits


def _cut(points: NDArray[np.float64]) -> tuple[NDArray[np.int64], bool]:
    """Triangles of one polygon that a fan from its first corner does not fit well, and whether it was a simple one."""
    size = len(points)
    fan = _fan(size)
    fan_will_do = bool(_fits(points[None], fan, solid=False)[0])
    if size == 4:
        other = np.array([[1, 2, 3], [1, 3, 0]])
        if _fits(points[None], other, solid=fan_will_do)[0]:
            return other, True
        return fan, fan_will_do
    if size > _MOST_EARS:
        return fan, fan_will_do
    ears, clear = _clip_ears(_flattened(points))
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


def _clip_ears(points: list[tuple[float, float]]) -> tuple[NDArray[np.int64], bool]:
    left = list(range(len(points)))
    cut: list[tuple[int, int, int]] = []
    clear = True
    at = 0
    while len(left) > 3:
        i = _ear(points, left, at, _THIN)
        if i < 0:
            i = _ear(points, left, at, 0.0)
        if i < 0:
            clear = False
            i = at % len(left)
        cut.append((left[i - 1], left[i], left[(i + 1) % len(left)]))
        del left[i]
        at = i
    cut.append((left[0], left[1], left[2]))
    return np.array(cut, dtype=np.int64), clear


def _ear(points: list[tuple[float, float]], left: list[int], at: int, thin: float) -> int:
    """Place in `left` of the first ear from `at` on that is not as thin as that, -1 if there is none."""
    corners = [(left[i - 1], k, left[(i + 1) % len(left)]) for i, k in enumerate(left)]
    turns = [_turn(points, *corner) > thin * _longest(points, *corner) for corner in corners]
    reflex = [k for k, turns_out in zip(left, turns, strict=True) if not turns_out]
    for step in range(len(left)):
        i = (at + step) % len(left)
        if turns[i] and not _holds_any(points, *corners[i], reflex, thin):
            return i
    return -1


def _turn(points: list[tuple[float, float]], a: int, b: int, c: int) -> float:
    """Twice the signed area of a triangle."""
    (ax, ay), (bx, by), (cx, cy) = points[a], points[b], points[c]
    return (bx - ax) * (cy - ay) - (by - ay) * (cx - ax)


def _longest(points: list[tuple[float, float]], a: int, b: int, c: int) -> float:
    """Square of the longest side of a triangle."""
    (ax, ay), (bx, by), (cx, cy) = points[a], points[b], points[c]
    return max((ax - bx) ** 2 + (ay - by) ** 2, (bx - cx) ** 2 + (by - cy) ** 2, (cx - ax) ** 2 + (cy - ay) ** 2)


def _holds_any(points: list[tuple[float, float]], a: int, b: int, c: int, others: list[int], thin: float) -> bool:
    """Whether another corner lies in the triangle or on its rim. Corners in the same place as its own do not count:
    an outline that goes to a hole and back on one line has such corners."""
    own = (points[a], points[b], points[c])
    rim = -thin * _longest(points, a, b, c)
    return any(
        _turn(points, a, b, k) >= rim
        and _turn(points, b, c, k) >= rim
        and _turn(points, c, a, k) >= rim
        and points[k] not in own
        for k in others
    )
