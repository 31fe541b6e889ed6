"""Edges of polygons that were cut into triangles: a diagonal belongs to its polygon and to nothing else.

A diagonal may lie on an edge of a neighbour, where a polygon is bent or has opposite corners in common with another one.
It must then not count as one more face on that edge.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from .edges import edge_mates, side_ends


def polygon_mates(corners: NDArray[np.int32], polygon: NDArray[np.int32]) -> NDArray[np.int32]:
    """`edges.edge_mates`, with both sides of a diagonal named after one of the two and apart from all other sides.

    corners: (m, 3) int32 welded ids, below 0 in triangles that take no part. polygon: (m,) number of each triangle's
    polygon, those of one polygon next to each other.
    """
    diagonal = diagonals(corners, polygon)
    inside = diagonal >= 0
    mates = edge_mates(corners, inside)
    mates[inside] = diagonal[inside]
    return mates


def polygon_numbers(polygons: Sequence[NDArray[np.int32] | None], triangles: Sequence[int]) -> NDArray[np.int32] | None:
    """Numbers of the polygons of several meshes one after the other, counted through; None where none of them has any.

    polygons: (m,) of each mesh, or None for one of triangles only. triangles: how many each has.
    """
    if all(one is None for one in polygons):
        return None
    numbers, count = [], 0
    for one, size in zip(polygons, triangles, strict=True):
        own = np.arange(size, dtype=np.int32) if one is None else one
        numbers.append(own + np.int32(count))
        count += int(own.max(initial=-1)) + 1
    return np.concatenate(numbers)


def diagonals(corners: NDArray[np.int32], polygon: NDArray[np.int32]) -> NDArray[np.int32]:
    """(3 m,) int32: for sides inside a polygon one side of the same diagonal, for both the same; -1 for all others."""
    count = len(corners)
    found = np.full(3 * count, -1, np.int32)
    if count < 2:
        return found
    # In a fan, and in every quad, a triangle's last side is the next one's first.
    fan = (polygon[:-1] == polygon[1:]) & (corners[:-1, 2] == corners[1:, 1]) & (corners[:-1, 0] == corners[1:, 0])
    fan &= (corners[:-1] >= 0).all(axis=1) & (corners[1:] >= 0).all(axis=1)
    sides = 3 * np.flatnonzero(fan) + 2
    found[sides] = sides
    found[sides + 1] = sides
    # Elsewhere two sides of one polygon that run between the same corners, one each way.
    starts = np.flatnonzero(np.append(True, polygon[1:] != polygon[:-1]))
    pieces = np.diff(np.append(starts, count))
    paired = np.add.reduceat(np.append(fan, False).astype(np.int64), starts)
    rows = np.flatnonzero(np.repeat(paired < pieces - 1, pieces) & (corners >= 0).all(axis=1))
    sides = (3 * rows[:, None] + np.arange(3)).reshape(-1)
    start, end = side_ends(np.ascontiguousarray(corners[rows]))
    low, high, of = np.minimum(start, end), np.maximum(start, end), polygon[sides // 3]
    order = np.lexsort((sides, high, low, of))
    here, after = order[:-1], order[1:]
    same = (of[here] == of[after]) & (low[here] == low[after]) & (high[here] == high[after])
    alone = same & ~np.append(False, same[:-1]) & ~np.append(same[1:], False)
    both = alone & (start[here] == end[after]) & (start[here] != end[here])
    found[sides[here[both]]] = sides[here[both]]
    found[sides[after[both]]] = sides[here[both]]
    return found
