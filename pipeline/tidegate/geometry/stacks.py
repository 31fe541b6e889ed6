"""Islands laid exactly on one another, told apart from islands that overlap by accident.

A stack is told by its outline as a set of points, so an island stacked turned by a half or quarter turn or mirrored is in
the stack when its outline falls on the others', however its triangles are cut or numbered. One shifted by a texel is
not. Outlines are compared by their sorted corners in several directions: two sets of points that agree in sorted order
in each of them agree for every layout that was not built to deceive.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from .areas import island_sums
from .outlines import Outlines

_BLOCK = 1 << 14  # triangles at a time: what is in work stays in the processor's cache
_DIRECTIONS = ((1.0, 0.0), (0.0, 1.0), (0.6180339887, 0.7861513778), (-0.4142135624, 0.9101797211))


def exact_stacks(
    outline: Outlines, boxes: NDArray[np.float64], areas: NDArray[np.float64], tolerance: float
) -> NDArray[np.int32]:
    """(i,) int32: for each island the first one whose outline lies exactly on its own, itself when there is none before.

    boxes (i, 4), areas (i,) unsigned UV areas; tolerance: UV units that corners may be apart, such as 0.05 texel.
    Islands that lie in different tiles are moved into one tile by the caller when tiles repeat.
    """
    features = np.column_stack([outline.size.astype(np.float64), boxes, areas])
    steps = np.array([0.5, tolerance, tolerance, tolerance, tolerance, 0.0])
    extent = np.maximum(boxes[:, 2] - boxes[:, 0], boxes[:, 3] - boxes[:, 1])
    steps[5] = 8.0 * tolerance * (float(np.nanmax(extent)) if len(boxes) and not np.isnan(extent).all() else 1.0)
    lists = [outline.point[0] * x + outline.point[1] * y for x, y in _DIRECTIONS]
    return _agreeing(features, steps, lists, outline, 2.0 * tolerance)


def same_shape(
    outline: Outlines, boxes: NDArray[np.float64], areas: NDArray[np.float64], tolerance: float
) -> NDArray[np.int32]:
    """(i,) int32: for each island the first one whose outline has the same shape and size wherever it lies, however it is
    turned, mirrored or not; itself when there is none before.

    Compared are the distances of the corners from their middle, sorted, the sum of their squares and the area.
    """
    count = len(boxes)
    middle = np.stack([island_sums(outline.point[axis], outline.island, count) for axis in range(2)])
    middle /= np.maximum(outline.size, 1)
    apart = outline.point - middle[:, outline.island]
    distance = np.sqrt((apart * apart).sum(axis=0))
    features = np.column_stack([outline.size.astype(np.float64), areas])
    extent = np.maximum(boxes[:, 2] - boxes[:, 0], boxes[:, 3] - boxes[:, 1])
    widest = float(np.nanmax(extent)) if len(boxes) and not np.isnan(extent).all() else 1.0
    return _agreeing(features, np.array([0.5, 8.0 * tolerance * widest]), [distance], outline, 2.0 * tolerance)


def identical_islands(uv: NDArray[np.float64], labels: NDArray[np.int32], count: int) -> NDArray[np.int32]:
    """(count,) int32: for each island the first one that has the very same triangles in the tile, bit for bit, whichever
    way round; itself when there is none before.

    Told by the number of triangles and 128 bits of their coordinates.
    """
    sizes = np.bincount(labels[labels >= 0], minlength=count).astype(np.uint64)
    # Few islands have a twin. Those with the same triangles have the same sum of bits: only where that comes again do we
    # look closer.
    bits = np.zeros((2, count + 1), np.uint64)
    for axis in range(2):
        for start in range(0, len(labels), _BLOCK):
            part = slice(start, start + _BLOCK)
            corner = (uv[:, axis, part] + 0.0).view(np.uint64)
            np.add.at(bits[axis], labels[part], corner[0] + corner[1] + corner[2])  # label -1 is the last entry
    again = _repeated(bits[0, :count], bits[1, :count], sizes)
    if not again.any():
        return np.arange(count, dtype=np.int32)
    chosen = np.flatnonzero(np.append(again, False)[labels])
    if len(chosen) < len(labels):
        uv, labels = uv[:, :, chosen], labels[chosen]
    columns = (np.ascontiguousarray(uv) + 0.0).view(np.uint64)
    sums = []
    for odd in (np.uint64(0x9E3779B97F4A7C15), np.uint64(0xC2B2AE3D27D4EB4F)):
        corner = columns[:, 0] * odd
        corner ^= corner >> np.uint64(31)
        corner += columns[:, 1]
        corner *= odd
        corner ^= corner >> np.uint64(29)
        corner *= odd
        corner ^= corner >> np.uint64(32)
        triangle = corner[0] + corner[1] + corner[2]  # a sum: the corners' order does not matter
        triangle ^= triangle >> np.uint64(30)
        triangle *= odd
        triangle ^= triangle >> np.uint64(27)
        whole = np.zeros(count + 1, np.uint64)
        np.add.at(whole, labels, triangle)  # label -1 lands in the last entry
        sums.append(whole[:count])
    # What was not looked at closer is told apart by its own number.
    alone = np.where(again, 0, np.arange(1, count + 1)).astype(np.uint64)
    order = np.lexsort((alone, sizes, sums[1], sums[0]))
    opens = np.ones(count, np.bool_)
    for key in (*sums, sizes, alone):
        key = key[order]
        if count > 1:
            opens[1:] &= key[1:] == key[:-1]
    opens[:1] = False
    opens = ~opens
    starts = np.flatnonzero(opens)
    first = np.empty(count, np.int32)
    first[order] = order[starts][np.cumsum(opens) - 1] if count else order
    return first


def _repeated(*keys: NDArray[np.uint64]) -> NDArray[np.bool_]:
    """(n,) whether a row of the keys comes more than once."""
    order = np.lexsort(keys)
    same = np.ones(max(len(order) - 1, 0), np.bool_)
    for key in keys:
        same &= key[order][1:] == key[order][:-1]
    again = np.zeros(len(order), np.bool_)
    again[order[1:][same]] = True
    again[order[:-1][same]] = True
    return again


def _agreeing(
    features: NDArray[np.float64],
    steps: NDArray[np.float64],
    lists: list[NDArray[np.float64]],
    outline: Outlines,
    tolerance: float,
) -> NDArray[np.int32]:
    count = len(features)
    found = np.arange(count, dtype=np.int32)
    ordered = [values[np.lexsort((values, outline.island))] for values in lists]
    offset = np.cumsum(outline.size) - outline.size
    open_islands = np.flatnonzero((outline.size > 0) & ~np.isnan(features).any(axis=1))
    klass = _clusters(features[open_islands], steps)
    while len(open_islands) > 1:
        # Compare every island with the first of its class; those that do not agree make a class of their own next.
        order = np.lexsort((open_islands, klass))
        opens = np.append(True, klass[order][1:] != klass[order][:-1])
        head = np.empty(len(order), np.int64)
        head[order] = open_islands[order][np.flatnonzero(opens)][np.cumsum(opens) - 1]
        asks = np.flatnonzero(head != open_islands)
        if len(asks) == 0:
            break
        member, first = open_islands[asks], head[asks]
        size = outline.size[member]
        step = np.arange(int(size.sum())) - np.repeat(np.cumsum(size) - size, size)
        mine, theirs = np.repeat(offset[member], size) + step, np.repeat(offset[first], size) + step
        differs = np.zeros(len(step), np.bool_)
        for values in ordered:
            differs |= np.abs(values[mine] - values[theirs]) > tolerance
        agrees = np.ones(len(member), np.bool_)
        agrees[np.repeat(np.arange(len(member)), size)[differs]] = False
        found[member[agrees]] = first[agrees]
        open_islands, klass = member[~agrees], klass[asks[~agrees]]
    return found


def _clusters(features: NDArray[np.float64], steps: NDArray[np.float64]) -> NDArray[np.int64]:
    """Class of each row: rows whose features hang together by steps no longer than allowed, one feature after another."""
    klass = np.zeros(len(features), np.int64)
    for axis in range(features.shape[1]):
        values = features[:, axis]
        order = np.lexsort((values, klass))
        opens = np.zeros(len(order), np.int64)
        opens[1:] = (klass[order][1:] != klass[order][:-1]) | (np.diff(values[order]) > steps[axis])
        klass[order] = np.cumsum(opens)
    return klass
