"""Segments in the plane: the distance of two and where it is taken; the piece of one that lies in a box."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

_EQUAL = 1e-9  # distances that differ by less are one distance computed in two ways


def segment_distances(
    a0: NDArray[np.float64], a1: NDArray[np.float64], b0: NDArray[np.float64], b1: NDArray[np.float64]
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Smallest distance (p,) of segment a0-a1 from segment b0-b1, each (2, p), and the point (2, p) halfway between the two
    nearest points. Segments that cross have distance 0 at their crossing. Where several points are equally near (parallel
    segments), the lowest, then the leftmost is named, whichever way round the segments run."""
    distance, point = _point_to_segment(a0, b0, b1)
    for tip, start, end in ((a1, b0, b1), (b0, a0, a1), (b1, a0, a1)):
        other, place = _point_to_segment(tip, start, end)
        lower = (place[1] < point[1]) | ((place[1] == point[1]) & (place[0] < point[0]))
        nearer = (other < distance - _EQUAL) | ((other <= distance + _EQUAL) & lower)
        distance = np.where(nearer, other, distance)
        point = np.where(nearer, place, point)
    along_a, along_b, apart = a1 - a0, b1 - b0, b0 - a0
    cross = _cross(along_a, along_b)
    with np.errstate(divide="ignore", invalid="ignore"):
        on_a, on_b = _cross(apart, along_b) / cross, _cross(apart, along_a) / cross
        # Of segments on one line the cross product is noise; their ends have been looked at already.
        apart_enough = np.abs(cross) > _EQUAL * np.hypot(*along_a) * np.hypot(*along_b)
        crossing = apart_enough & (on_a >= 0.0) & (on_a <= 1.0) & (on_b >= 0.0) & (on_b <= 1.0)
    if crossing.any():
        distance = np.where(crossing, 0.0, distance)
        point[:, crossing] = (a0 + along_a * np.where(crossing, on_a, 0.0))[:, crossing]
    return distance, point


def within_box(
    segments: NDArray[np.float64], low: tuple[float, float], high: tuple[float, float]
) -> tuple[NDArray[np.float64], NDArray[np.int64]]:
    """The pieces (4, k) of segments (4, s) x0, y0, x1, y1 inside the box, and which segment each is of. Those that lie inside
    whole keep their bits."""
    enter, leave = np.zeros(segments.shape[1]), np.ones(segments.shape[1])
    for axis in range(2):
        start, way = segments[axis], segments[2 + axis] - segments[axis]
        with np.errstate(divide="ignore", invalid="ignore"):
            one, other = (low[axis] - start) / way, (high[axis] - start) / way
        level = way == 0.0
        outside = level & ((start < low[axis]) | (start > high[axis]))
        enter = np.where(level, np.where(outside, 2.0, enter), np.maximum(enter, np.minimum(one, other)))
        leave = np.where(level, leave, np.minimum(leave, np.maximum(one, other)))
    kept = np.flatnonzero(enter <= leave)
    pieces, enter, leave = segments[:, kept], enter[kept], leave[kept]
    start, way = pieces[:2].copy(), pieces[2:] - pieces[:2]
    pieces[:2] = np.where(enter > 0.0, start + way * enter, start)
    pieces[2:] = np.where(leave < 1.0, start + way * leave, pieces[2:])
    return pieces, kept


def _point_to_segment(
    tip: NDArray[np.float64], start: NDArray[np.float64], end: NDArray[np.float64]
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    along = end - start
    reach = tip - start
    square = along[0] * along[0] + along[1] * along[1]
    with np.errstate(divide="ignore", invalid="ignore"):
        share = (reach[0] * along[0] + reach[1] * along[1]) / square
    share = np.clip(np.where(square > 0.0, share, 0.0), 0.0, 1.0)
    nearest = start + along * share
    gap = tip - nearest
    return np.sqrt(gap[0] * gap[0] + gap[1] * gap[1]), 0.5 * (tip + nearest)


def _cross(a: NDArray[np.float64], b: NDArray[np.float64]) -> NDArray[np.float64]:
    product: NDArray[np.float64] = a[0] * b[1] - a[1] * b[0]
    return product
