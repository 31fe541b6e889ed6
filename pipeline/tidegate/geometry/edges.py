"""Which sides of triangles are one edge.

Side s of triangle t runs from corner s to corner s + 1 (round to 0) and has number 3 t + s. `edge_mates` names for
every side one side of the same edge, so counting, joining and finding borders are one gather away, without sorting.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from .matching import representatives

_BLOCK = 1 << 16  # sides at a time: what is in work stays in the processor's cache
_SLOT_BITS = 4  # sixteen slots for the edges whose lower corner is the same: seldom two in one


def side_ends(corners: NDArray[np.int32]) -> tuple[NDArray[np.int32], NDArray[np.int32]]:
    """Corner ids (3 m,) at the start and at the end of every side of the triangles `corners` (m, 3)."""
    end = np.empty_like(corners)
    end[:, :2] = corners[:, 1:]
    end[:, 2] = corners[:, 0]
    return corners.reshape(-1), end.reshape(-1)


def edge_mates(corners: NDArray[np.int32], left_out: NDArray[np.bool_] | None = None) -> NDArray[np.int32]:
    """(3 m,) int32: a side of the same undirected edge for each side, the same one for all sides of that edge.

    corners: (m, 3) int32 welded ids. A side whose ends are one corner, or that has an end below 0, is no edge: -1.
    left_out: (3 m,) sides that are to be no edge either.
    The side named is the first of its edge wherever the table of slots decides; only equality means anything.
    """
    start, end = side_ends(np.ascontiguousarray(corners, np.int32))
    low = np.minimum(start, end)
    high = np.maximum(start, end, out=end)
    if left_out is not None:
        low[left_out] = high[left_out]
    count = len(low)
    top = int(high.max()) + 1 if count else 0
    mates = np.empty(count, np.int32)
    if top > 2 * count or top >= 1 << (31 - _SLOT_BITS):
        rest = np.flatnonzero((low != high) & (low >= 0))  # so sparse a numbering would ask for a huge table
        mates.fill(-1)
    else:
        # First round: every edge into a slot that belongs to its lower corner, so that what lies close in the mesh lies
        # close in memory. The match is proven; what another edge was written over goes to the table of hashes.
        table = np.empty(max(top, 1) << _SLOT_BITS, np.int32)
        blocks = [slice(begin, min(begin + _BLOCK, count)) for begin in range(0, count, _BLOCK)]
        for part in reversed(blocks):  # the last write stays: the earliest side of each slot
            place = _places(low[part], high[part])
            table[place[::-1]] = np.arange(part.stop - 1, part.start - 1, -1, dtype=np.int32)
        left: list[NDArray[np.int64]] = [np.zeros(0, np.int64)]
        for part in blocks:
            own_low, own_high = low[part], high[part]
            candidate = table.take(_places(own_low, own_high))
            named = candidate.astype(np.int64)
            same = low.take(named) == own_low
            same &= high.take(named) == own_high
            none = own_low == own_high
            none |= own_low < 0
            candidate[none] = -1
            same |= none
            mates[part] = candidate
            left.append(np.flatnonzero(~same) + part.start)
        rest = np.concatenate(left)
    if len(rest):
        mates[rest] = rest.take(representatives([_key(low[rest], high[rest])]))
    return mates


def _places(low: NDArray[np.int32], high: NDArray[np.int32]) -> NDArray[np.int64]:
    """Slot of each edge, one of the few that belong to its lower corner; an end below 0 counts as corner 0."""
    slot = high.view(np.uint32) * np.uint32(0x9E3779B1)
    slot ^= slot >> np.uint32(15)
    slot *= np.uint32(0x85EBCA6B)
    slot >>= np.uint32(32 - _SLOT_BITS)
    slot |= np.maximum(low, 0).view(np.uint32) << np.uint32(_SLOT_BITS)
    return slot.astype(np.int64)


def _key(low: NDArray[np.int32], high: NDArray[np.int32]) -> NDArray[np.uint64]:
    return (low.astype(np.uint64) << np.uint64(32)) | high.astype(np.uint64)


def edge_faces(mates: NDArray[np.int32]) -> NDArray[np.int32]:
    """(3 m,) int32: how many sides lie on the edge of each side, 0 where it is no edge."""
    shared = mates >= 0
    if shared.all():
        return np.bincount(mates, minlength=len(mates)).astype(np.int32).take(mates)
    total = np.bincount(mates[shared], minlength=len(mates)).astype(np.int32)
    faces = np.zeros(len(mates), np.int32)
    faces[shared] = total[mates[shared]]
    return faces
