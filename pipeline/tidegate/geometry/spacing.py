"""The room between islands, exact to their outlines.

The search looks four times as far each time around and only for islands that have found no neighbour yet: border sides are cut
into pieces no longer than half of how far it looks, pieces are put into square cells, and only pieces in neighbouring
cells are measured. Its cost grows with the length of the borders, not with pairs of islands.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from .batches import batches
from .meanwhile import Meanwhile, more_than_one_core
from .segments import segment_distances

_FIRST_LOOK = 4.0
_AT_ONCE = 1 << 19  # pairs of pieces measured at a time
_BESIDE = 30_000  # pieces from which on two cores measure them
_SOME = 16  # of so many pairs, one is looked at first
_GRAIN = 1e-6  # texels; distances are rounded to it, so that equal gaps are equal however they were computed


class Gaps(NamedTuple):
    """gap: (i,) float64 smallest distance to an island of another group, inf where none is within reach. neighbour: (i,)
    int32 that island, -1 where none. point: (i, 2) middle of the gap, NaN where none. Of equal gaps the neighbour with
    the lowest number, then the lowest and leftmost place."""

    gap: NDArray[np.float64]
    neighbour: NDArray[np.int32]
    point: NDArray[np.float64]


def island_gaps(
    start: NDArray[np.float64],
    end: NDArray[np.float64],
    island: NDArray[np.int32],
    count: int,
    reach: float,
    group: NDArray[np.int32] | None = None,
) -> Gaps:
    """Smallest gap of every island.

    start, end: (2, b) finite ends of border sides in texels (`borders.side_points` scaled to the map). island: (b,) the
    island of each. reach: texels beyond which gaps are of no interest. group: (count,) islands between which no gap is
    wanted carry one number: those that overlap, lie in one stack, or are one surface cut only by material.
    """
    groups = np.arange(count, dtype=np.int32) if group is None else group
    best = np.full(count, np.inf)
    neighbour = np.full(count, -1, np.int32)
    point = np.full((count, 2), np.nan)
    waiting = np.zeros(count, np.bool_)
    there = groups[island]
    if len(there) and there.min() != there.max():
        waiting[island] = True  # with one group alone there is nothing to look for
    look = min(_FIRST_LOOK, reach)
    while waiting.any() and look > 0.0:
        found = _look(start, end, island, groups, waiting, look, best)
        if len(found.gap):
            order = np.lexsort((found.x, found.y, found.neighbour, found.gap, found.island))
            first = order[np.append(True, found.island[order][1:] != found.island[order][:-1])]
            rows = found.island[first]
            best[rows], neighbour[rows] = found.gap[first], found.neighbour[first]
            point[rows] = np.stack([found.x[first], found.y[first]], axis=1)
        waiting &= best > look
        if look >= reach:
            break
        look = min(look * 4.0, reach)
    far = best > reach
    best[far], neighbour[far], point[far] = np.inf, -1, np.nan
    return Gaps(best, neighbour, point)


class _Found(NamedTuple):
    gap: NDArray[np.float64]
    island: NDArray[np.int32]
    neighbour: NDArray[np.int32]
    x: NDArray[np.float64]
    y: NDArray[np.float64]


def _look(
    start: NDArray[np.float64],
    end: NDArray[np.float64],
    island: NDArray[np.int32],
    groups: NDArray[np.int32],
    waiting: NDArray[np.bool_],
    look: float,
    known: NDArray[np.float64],
) -> _Found:
    low, high, owner = _pieces(start, end, island, look / 2.0)
    # Pieces within `look` of each other have their middles within 1.5 times that: the cell beside, at most.
    cell = np.floor(0.5 * (low + high) / (1.5 * look)).astype(np.int64)
    cell -= cell.min(axis=1, keepdims=True) - 1
    stride = int(cell[0].max()) + 2
    place = cell[1] * stride + cell[0]
    order = np.lexsort((owner, groups[owner], place))
    low, high, owner, place = low[:, order], high[:, order], owner[order], place[order]
    kin = groups[owner]
    (x, y), half = 0.5 * (low + high), 0.5 * np.hypot(*(high - low)) + _GRAIN
    opens = np.flatnonzero(np.append(True, (place[1:] != place[:-1]) | (kin[1:] != kin[:-1])))
    size = np.diff(np.append(opens, len(place)))
    boxes = np.concatenate(
        [
            np.minimum.reduceat(np.minimum(low, high), opens, axis=1),
            np.maximum.reduceat(np.maximum(low, high), opens, axis=1),
        ]
    )
    spot, whose = place[opens], kin[opens]
    asks = np.logical_or.reduceat(waiting[owner], opens)
    asking = np.flatnonzero(asks)

    def measured(asking: NDArray[np.int64]) -> list[_Found]:
        best = np.where(waiting, known, -np.inf)  # what is not waiting takes nothing
        found: list[_Found] = []
        for step in (-stride - 1, -stride, -stride + 1, -1, 0, 1, stride - 1, stride, stride + 1):
            bound = np.minimum(np.maximum.reduceat(best[owner], opens), look)
            first = np.searchsorted(spot, spot[asking] + step, side="left")
            until = np.searchsorted(spot, spot[asking] + step, side="right")
            for one, other in _products(asking, first, until):
                # Two that both ask meet twice and are measured once, for both.
                near = (whose[one] != whose[other]) & ((one < other) | ~asks[other])
                one, other = one[near], other[near]
                apart = np.maximum(boxes[:2, one] - boxes[2:, other], boxes[:2, other] - boxes[2:, one])
                apart = np.maximum(apart, 0.0)
                within = np.maximum(bound[one], bound[other]) + _GRAIN
                near = (apart * apart).sum(axis=0) <= within * within
                one, other = one[near], other[near]
                for a, b in _members(opens, size, one, other):
                    across, up = x.take(a), y.take(a)
                    across -= x.take(b)
                    up -= y.take(b)
                    least = np.sqrt(across * across + up * up)
                    # Pieces are no farther apart than their middles: some of these, and most need not be measured.
                    some = slice(None, None, _SOME)
                    most = least[some] + _GRAIN
                    np.minimum.at(best, owner.take(a[some]), most)
                    np.minimum.at(best, owner.take(b[some]), most)
                    least -= half.take(a)
                    least -= half.take(b)
                    within = np.minimum(np.maximum(best.take(owner.take(a)), best.take(owner.take(b))), look)
                    held = np.flatnonzero(least <= within)
                    a, b = a.take(held), b.take(held)
                    distance, middle = segment_distances(low[:, a], high[:, a], low[:, b], high[:, b])
                    distance = np.rint(distance / _GRAIN) * _GRAIN
                    middle = np.rint(middle / _GRAIN) * _GRAIN
                    for mine, theirs in ((owner.take(a), owner.take(b)), (owner.take(b), owner.take(a))):
                        np.minimum.at(best, mine, distance)
                        hit = np.flatnonzero(distance <= best.take(mine))
                        found.append(_Found(distance[hit], mine[hit], theirs[hit], middle[0, hit], middle[1, hit]))
        return found

    # Halves of the cells, upper and lower: what one learns of the nearest would only spare the other some looking.
    half_way = len(asking) // 2
    upper = Meanwhile(lambda: measured(asking[half_way:]), beside=len(place) >= _BESIDE and more_than_one_core())
    found = measured(asking[:half_way]) + upper.result()
    if not found:
        none = np.zeros(0)
        return _Found(none, none.astype(np.int32), none.astype(np.int32), none, none)
    return _Found(*(np.concatenate([getattr(part, name) for part in found]) for name in _Found._fields))


def _pieces(
    start: NDArray[np.float64], end: NDArray[np.float64], island: NDArray[np.int32], longest: float
) -> tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.int32]]:
    along = end - start
    parts = np.maximum(np.ceil(np.hypot(along[0], along[1]) / longest), 1.0).astype(np.int64)
    side = np.repeat(np.arange(len(parts)), parts)
    step = np.arange(len(side)) - np.repeat(np.cumsum(parts) - parts, parts)
    low = start[:, side] + along[:, side] * (step / parts[side])
    high = start[:, side] + along[:, side] * ((step + 1) / parts[side])
    return low, high, island[side]


def _products(
    asking: NDArray[np.int64], first: NDArray[np.int64], until: NDArray[np.int64]
) -> Iterator[tuple[NDArray[np.int64], NDArray[np.int64]]]:
    """Every asking group with every group in its range."""
    for begin, stop in batches(until - first, _AT_ONCE):
        total = (until - first)[begin:stop]
        one = np.repeat(asking[begin:stop], total)
        yield one, np.arange(len(one)) + np.repeat(first[begin:stop] - (np.cumsum(total) - total), total)


def _members(
    opens: NDArray[np.int64], size: NDArray[np.int64], one: NDArray[np.int64], other: NDArray[np.int64]
) -> Iterator[tuple[NDArray[np.int64], NDArray[np.int64]]]:
    """Every piece of one group with every piece of the other."""
    for begin, stop in batches(size[one] * size[other], _AT_ONCE):
        left, right = one[begin:stop], other[begin:stop]
        total = size[left] * size[right]
        pair = np.repeat(np.arange(len(left)), total)
        step = np.arange(len(pair)) - np.repeat(np.cumsum(total) - total, total)
        width = size[right].astype(np.float64)[pair]
        row = np.floor(step / width).astype(np.int64)  # exact: both are far below 2^53
        step -= row * size[right][pair]
        row += opens[left][pair]
        step += opens[right][pair]
        yield row, step


def border_gaps(
    boxes: NDArray[np.float64], width: float, height: float
) -> tuple[NDArray[np.float64], NDArray[np.int8]]:
    """Smallest distance (i,) of each island from the border of its tile, and to which: 0 left, 1 bottom, 2 right, 3 top.

    boxes: (i, 4) x0, y0, x1, y1 in texels within the tile; negative where an island reaches over.
    """
    gaps = np.stack([boxes[:, 0], boxes[:, 1], width - boxes[:, 2], height - boxes[:, 3]], axis=1)
    side = np.argmin(gaps, axis=1) if len(gaps) else np.zeros(0, np.int64)
    return gaps[np.arange(len(gaps)), side], side.astype(np.int8)
