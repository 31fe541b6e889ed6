"""The corners of an island's outline: where its border turns. Points along a straight stretch are none, so two islands
cut into triangles differently still have the same outline."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from .borders import side_points

_STRAIGHT = 1e-5  # sine of the turn below which a border goes straight on; single-precision UVs need about 1e-6


class Outlines(NamedTuple):
    """Corners of all islands, island by island: point (2, c), island (c,) ascending, size (i,) corners of each."""

    point: NDArray[np.float64]
    island: NDArray[np.int32]
    size: NDArray[np.int64]


def outlines(
    uv: NDArray[np.float64],
    corners: NDArray[np.int32],
    borders: NDArray[np.int64],
    labels: NDArray[np.int32],
    count: int,
) -> Outlines:
    """Outline corners of every island, holes included.

    uv: (3, 2, m) corner columns. corners: (m, 3) welded ids. borders: `borders.border_sides`.
    A border point passed more than once counts as a corner each time.
    """
    start, end = side_points(uv, borders)
    island = labels[borders // 3]
    ids = corners.reshape(-1)
    first = ids[borders]
    last = ids[(borders // 3) * 3 + (borders % 3 + 1) % 3]
    # Sort the sides by where they start and by where they end: the k-th of both meet there, one in and one out, unless
    # several strands pass the point.
    leaving = np.lexsort((first, island))
    coming = np.lexsort((last, island))
    fits = (first[leaving] == last[coming]) & (island[leaving] == island[coming])
    key = island[leaving].astype(np.int64) << 32 | first[leaving]
    single = np.ones(len(key), np.bool_)
    if len(key) > 1:
        equal = key[1:] == key[:-1]
        single[1:] &= ~equal
        single[:-1] &= ~equal
    forward = (end - start)[:, leaving]
    before = (end - start)[:, coming]
    cross = before[0] * forward[1] - before[1] * forward[0]
    inner = before[0] * forward[0] + before[1] * forward[1]
    with np.errstate(invalid="ignore"):
        straight = (np.abs(cross) <= _STRAIGHT * np.abs(inner)) & (inner > 0.0)
    turns = np.flatnonzero(~(straight & single & fits))
    chosen = leaving[turns]
    owner = island[chosen]
    return Outlines(np.ascontiguousarray(start[:, chosen]), owner, np.bincount(owner, minlength=count).astype(np.int64))
