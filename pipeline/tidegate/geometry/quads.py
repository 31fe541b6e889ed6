"""Pairs of triangles that are one quad: the diagonals a drawing hides, and how far a quad is bent along them."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from .areas import cross_products
from .corners import corner_points, next_sides
from .edges import edge_faces
from .slivers import sum_of_squares

_BLOCK = 16_384  # edges at a time: the columns in work stay in the processor's cache
_ODD = np.uint64(0x9E3779B97F4A7C15)


def dihedral_degrees(
    xyz: NDArray[np.float64], mates: NDArray[np.int32]
) -> tuple[NDArray[np.int64], NDArray[np.int64], NDArray[np.float64]]:
    """For every edge with two triangles: its two sides (e,) and the degrees (e,) by which the surface bends across it.

    xyz: (3, 3, m) corner columns; mates: `edges.edge_mates`. 0 is flat, 180 folded back onto itself; NaN where one of the
    triangles has no area. The first side is the lower one; edges stand in its order.
    """
    second = np.flatnonzero((edge_faces(mates) == 2) & (mates != np.arange(len(mates), dtype=np.int32)))
    first = mates[second].astype(np.int64)
    low, high = np.minimum(first, second), np.maximum(first, second)
    order = np.argsort(low, kind="stable")
    low, high = low[order], high[order]
    face = cross_products(xyz)
    degrees = np.empty(len(low))
    for start in range(0, len(low), _BLOCK):
        part = slice(start, start + _BLOCK)
        a, b = face.take(low[part] // 3, axis=1), face.take(high[part] // 3, axis=1)
        # atan2 of the cross and inner product keeps its digits near flat, where arccos has none.
        c0, c1, c2 = a[1] * b[2] - a[2] * b[1], a[2] * b[0] - a[0] * b[2], a[0] * b[1] - a[1] * b[0]
        sine = np.sqrt(c0 * c0 + c1 * c1 + c2 * c2)
        cosine = a[0] * b[0] + a[1] * b[1] + a[2] * b[2]
        bend = np.degrees(np.arctan2(sine, cosine))
        bend[~(a.any(axis=0) & b.any(axis=0))] = np.nan
        degrees[part] = bend
    return low, high, degrees


def polygon_diagonals(polygon: NDArray[np.int32], mates: NDArray[np.int32]) -> NDArray[np.bool_]:
    """(3 m,) whether a side lies inside a source polygon, between two of its own triangles.

    polygon: (m,) int32 source polygon of each triangle; mates: `edges.edge_mates`.
    """
    inside = np.zeros(len(mates), np.bool_)
    second = np.flatnonzero((mates >= 0) & (mates != np.arange(len(mates), dtype=np.int32)))
    first = mates[second].astype(np.int64)
    same = polygon[first // 3] == polygon[second // 3]
    inside[first[same]] = True
    inside[second[same]] = True
    return inside


def likely_diagonals(
    xyz: NDArray[np.float64], mates: NDArray[np.int32], bend: float = 0.5, lean: float = 29.0
) -> NDArray[np.bool_]:
    """(3 m,) sides that are probably diagonals of quads, for files that keep triangles only.

    Two triangles pair when they lie in one plane within `bend` degrees and the quad they form has four corners of 90
    degrees give or take `lean` (below 30, so that a net of equal-sided triangles has no quads). A triangle pairs at
    most once, with the neighbour that makes the quad nearest to right angles. A guess, good enough for drawing.
    """
    low, high, degrees = dihedral_degrees(xyz, mates)
    flat = np.flatnonzero(degrees <= bend)
    low, high = low[flat], high[flat]
    badness = _quad_badness(xyz, low, high)
    good = np.flatnonzero(badness <= lean)
    low, high, badness = low[good], high[good], badness[good]
    count = xyz.shape[2]
    diagonal = np.zeros(len(mates), np.bool_)
    free = np.ones(count, np.bool_)
    while len(low):
        # Every triangle names its best quad; those named from both sides pair, and the rest choose again.
        best = np.full(count, np.inf)
        np.minimum.at(best, low // 3, badness)
        np.minimum.at(best, high // 3, badness)
        named = np.full(count, len(low), np.int64)
        rank = np.argsort(low.astype(np.uint64) * _ODD)  # scattered: in a row of equals, many pair at once
        for side in (low, high):
            tied = badness == best[side // 3]
            np.minimum.at(named, side[tied] // 3, rank[tied])
        pair = (named[low // 3] == rank) & (named[high // 3] == rank)
        diagonal[low[pair]] = True
        diagonal[high[pair]] = True
        free[low[pair] // 3] = False
        free[high[pair] // 3] = False
        keep = free[low // 3] & free[high // 3]
        low, high, badness = low[keep], high[keep], badness[keep]
    return diagonal


def _quad_badness(xyz: NDArray[np.float64], low: NDArray[np.int64], high: NDArray[np.int64]) -> NDArray[np.float64]:
    """Largest difference in degrees of a corner of the quad from 90."""
    second, third = next_sides(low), next_sides(next_sides(low))
    start, end, tip = (corner_points(xyz, sides) for sides in (low, second, third))
    other = corner_points(xyz, next_sides(next_sides(high)))
    ring = (start, other, end, tip)
    # At an inward corner the angle measured is the lesser one, but then the two triangles' angles there add up to more
    # than 180, and the opposite ones to less than 2 x 61: no such quad is within `lean` in all four corners.
    off = [np.abs(_angle(ring[i - 1] - ring[i], ring[(i + 1) % 4] - ring[i]) - 90.0) for i in range(4)]
    worst: NDArray[np.float64] = np.maximum.reduce(off)
    return worst


def _angle(a: NDArray[np.float64], b: NDArray[np.float64]) -> NDArray[np.float64]:
    """(k,) degrees between directions (3, k)."""
    inner = a[0] * b[0] + a[1] * b[1] + a[2] * b[2]
    cross = sum_of_squares(np.stack([a[1] * b[2] - a[2] * b[1], a[2] * b[0] - a[0] * b[2], a[0] * b[1] - a[1] * b[0]]))
    angle: NDArray[np.float64] = np.degrees(np.arctan2(np.sqrt(cross), inner))
    return angle
