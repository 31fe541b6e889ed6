"""Islands: triangles joined over an edge whose two ends agree in position and UV.

Touching in one corner does not join. An edge with more than two triangles joins all of them.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from .components import components
from .edges import edge_mates

_BLOCK = 1 << 16  # sides at a time: what is in work stays in the processor's cache


class TriangleOrder(NamedTuple):
    """Triangles listed island by island: those of island i are order[first[i] : first[i] + size[i]], ascending."""

    order: NDArray[np.int64]
    first: NDArray[np.int64]
    size: NDArray[np.int64]


def label_islands(corners: NDArray[np.int32], mates: NDArray[np.int32] | None = None) -> tuple[NDArray[np.int32], int]:
    """Labels (m,) int32 of the islands, 0.. in the order of their first triangle, and how many islands there are.

    corners: (m, 3) int32 from `weld.corner_ids`; a row with -1 has no UVs and gets label -1.
    mates: what `edges.edge_mates(corners)` gave, when it is at hand.
    A triangle whose corners all agree has no edge and is an island of its own.
    """
    if mates is None:
        mates = edge_mates(corners)
    count = len(corners)
    pairs: list[NDArray[np.int32]] = [np.zeros((2, 0), np.int32)]
    for begin in range(0, len(mates), _BLOCK):
        part = mates[begin : begin + _BLOCK]
        joined = np.flatnonzero((part >= 0) & (part != np.arange(begin, begin + len(part), dtype=np.int32)))
        pairs.append(np.stack([(joined + begin).astype(np.int32), part.take(joined)]) // np.int32(3))
    one, other = np.concatenate(pairs, axis=1)
    labels, total = components(one, other, count)
    if count == 0 or int(corners.min()) >= 0:
        return labels, total
    without = corners.min(axis=1) < 0
    used = np.zeros(total, np.bool_)
    used[labels[~without]] = True
    renumbered = np.cumsum(used, dtype=np.int32) - 1
    return np.where(without, np.int32(-1), renumbered[labels]).astype(np.int32), int(np.count_nonzero(used))


def island_triangles(labels: NDArray[np.int32], count: int) -> TriangleOrder:
    """The triangles of every island, in one list. Triangles with label -1 are in none."""
    order = np.argsort(labels, kind="stable")
    sizes = np.bincount(labels[labels >= 0], minlength=count).astype(np.int64)
    order = order[len(labels) - int(sizes.sum()) :]
    first = np.cumsum(sizes) - sizes
    return TriangleOrder(order, first, sizes)


def shared_surface(corners: NDArray[np.int32], labels: NDArray[np.int32], count: int) -> tuple[NDArray[np.int32], int]:
    """Groups (count,) int32 of islands that share an exact edge, and how many groups.

    For `corners` welded over several parts at once while `labels` were made part by part (an island cut only because
    the material changes): such islands are one piece of surface, and no gap between them is wanted.
    """
    mates = edge_mates(corners)
    joined = np.flatnonzero(mates >= 0)
    one, other = labels[joined // 3], labels[mates[joined] // 3]
    known = (one >= 0) & (other >= 0)
    return components(one[known], other[known], count)
