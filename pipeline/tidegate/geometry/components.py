"""Connected components over pairs: hook every node under a neighbour, flatten, shrink the graph, and again."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

_PLAIN_ROUNDS = 2


def components(first: NDArray[Any], second: NDArray[Any], count: int) -> tuple[NDArray[np.int32], int]:
    """Labels (count,) int32 of the things 0..count-1 joined by the pairs (first[i], second[i]), and how many labels.

    first, second: integer arrays of one length. Labels run from 0 in the order of the lowest member.
    """
    one, other = first.astype(np.int64), second.astype(np.int64)
    shrunk: list[NDArray[np.int64]] = []  # node of one round -> node of the next
    nodes = count
    upward = False
    while True:
        apart = np.flatnonzero(one != other)
        if len(apart) < len(one):
            one, other = one.take(apart), other.take(apart)
        if len(one) == 0:
            break
        low = np.minimum(one, other)
        high = np.maximum(one, other)
        root = np.arange(nodes)
        # Hooking downward leaves the nodes that are never the higher end of a pair, hooking upward those that are never
        # the lower end; no node is both, so the better way removes at least half of them. Real meshes are nearly done
        # after the plain rounds; the choice keeps odd numberings from needing more than log n rounds.
        if len(shrunk) >= _PLAIN_ROUNDS and _touched(low, nodes) > _touched(high, nodes):
            np.maximum.at(root, low, high)
            upward = True
        else:
            np.minimum.at(root, high, low)
        while True:
            further = root.take(root)
            if np.array_equal(further, root):
                break
            root = further
        roots = np.flatnonzero(root == np.arange(nodes))
        number = further  # of the same size and no longer needed
        nodes = len(roots)
        number[roots] = np.arange(nodes)
        small = number.take(root)
        shrunk.append(small)
        one, other = small.take(low), small.take(high)
    labels: NDArray[np.int64] = np.arange(nodes)
    for small in reversed(shrunk):
        labels = labels.take(small)
    # Hooking downward keeps the lowest member as the root, so the order is right already.
    return _by_lowest_member(labels, nodes) if upward else labels.astype(np.int32), nodes


def _touched(nodes: NDArray[np.int64], count: int) -> int:
    flags = np.zeros(count, np.bool_)
    flags[nodes] = True
    return int(np.count_nonzero(flags))


def _by_lowest_member(labels: NDArray[np.int64], count: int) -> NDArray[np.int32]:
    lowest = np.empty(count, np.int64)
    lowest[labels[::-1]] = np.arange(len(labels) - 1, -1, -1)  # the last write stays: the lowest member
    rank = np.empty(count, np.int32)
    rank[np.argsort(lowest)] = np.arange(count, dtype=np.int32)
    return rank.take(labels)
