"""Connected components over pairs: hook every node under a neighbour, flatten, shrink the graph, and again."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import numpy as np
from numpy.typing import NDArray

_PLAIN_ROUNDS = 2
_BLOCK = 1 << 16  # pairs at a time: what is in work stays in the processor's cache


def components(first: NDArray[Any], second: NDArray[Any], count: int) -> tuple[NDArray[np.int32], int]:
    """Labels (count,) int32 of the things 0..count-1 joined by the pairs (first[i], second[i]), and how many labels.

    first, second: integer arrays of one length. Labels run from 0 in the order of the lowest member.
    """
    one, other = _apart(first, second, None)
    shrunk: list[NDArray[np.int64]] = []  # node of one round -> node of the next
    nodes = count
    upward = False
    while len(one):
        # Hooking downward leaves the nodes that are never the higher end of a pair, hooking upward those that are never
        # the lower end; no node is both, so the better way removes at least half of them. Real meshes are nearly done
        # after the plain rounds; the choice keeps odd numberings from needing more than log n rounds.
        turn_up = False
        if len(shrunk) >= _PLAIN_ROUNDS:
            turn_up = _touched(np.minimum(one, other), nodes) > _touched(np.maximum(one, other), nodes)
        upward |= turn_up
        root = np.arange(nodes)
        for part in _blocks(len(one)):
            low, high = np.minimum(one[part], other[part]), np.maximum(one[part], other[part])
            if turn_up:
                np.maximum.at(root, low.astype(np.int64), high.astype(np.int64))
            else:
                np.minimum.at(root, high.astype(np.int64), low.astype(np.int64))
        further = root.take(root)
        while not np.array_equal(further, root):
            # The buffer given up is the next to fill.
            root, further = further, np.take(further, further, out=root, mode="clip")
        roots = np.flatnonzero(root == np.arange(nodes))
        nodes = len(roots)
        number = further  # of the same size and no longer needed
        number[roots] = np.arange(nodes)
        small = number.take(root)
        shrunk.append(small)
        one, other = _apart(one, other, small)
    labels: NDArray[np.int64] = np.arange(nodes)
    for small in reversed(shrunk):
        labels = labels.take(small)
    # Hooking downward keeps the lowest member as the root, so the order is right already.
    return _by_lowest_member(labels, nodes) if upward else labels.astype(np.int32), nodes


def _blocks(count: int) -> Iterator[slice]:
    for start in range(0, count, _BLOCK):
        yield slice(start, start + _BLOCK)


def _apart(
    one: NDArray[Any], other: NDArray[Any], small: NDArray[np.int64] | None
) -> tuple[NDArray[np.int32], NDArray[np.int32]]:
    """The pairs whose ends differ, after both were renamed by `small`."""
    ones, others = [np.zeros(0, np.int32)], [np.zeros(0, np.int32)]
    for part in _blocks(len(one)):
        a, b = one[part], other[part]
        if small is not None:
            a, b = small.take(a.astype(np.int64)), small.take(b.astype(np.int64))
        kept = np.flatnonzero(a != b)
        ones.append(a.take(kept).astype(np.int32))
        others.append(b.take(kept).astype(np.int32))
    return np.concatenate(ones), np.concatenate(others)


def _touched(nodes: NDArray[np.int32], count: int) -> int:
    flags = np.zeros(count, np.bool_)
    flags[nodes] = True
    return int(np.count_nonzero(flags))


def _by_lowest_member(labels: NDArray[np.int64], count: int) -> NDArray[np.int32]:
    lowest = np.empty(count, np.int64)
    lowest[labels[::-1]] = np.arange(len(labels) - 1, -1, -1)  # the last write stays: the lowest member
    rank = np.empty(count, np.int32)
    rank[np.argsort(lowest)] = np.arange(count, dtype=np.int32)
    return rank.take(labels)
