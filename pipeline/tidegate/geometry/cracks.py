"""Places where a surface just misses closing: a triangle that was left out, and borders that lie together without being welded.

Both are told from openings that were meant. sides: of open edges, 3 t + s. corners: (m, 3) ids of positions.
"""

from __future__ import annotations

from itertools import product

import numpy as np
from numpy.typing import NDArray

from .components import components
from .corners import corner_points, next_sides
from .edges import edge_mates, side_ends

WHOLE = 8  # triangles that a piece has at least: a pennant of three around a point has no hole
OF_AN_EDGE = 0.1  # of the shorter edge that two borders may lie apart at most; more is a gap that was meant
_NEXT = 16  # points in a place as small as the reach that one is held against; more are a model far too small to judge
BACK = -0.5  # cosine between the faces of two borders below which they are front and back of one sheet


def left_out_triangles(
    corners: NDArray[np.int32], sides: NDArray[np.int64], label: NDArray[np.int32]
) -> NDArray[np.int64]:
    """(h, 3) sides around each hole as large as one triangle, in pieces that are closed but for such holes.

    label: (m,) piece of each triangle.
    """
    start, end = side_ends(np.ascontiguousarray(corners))
    first, last = start[sides], end[sides]
    leaves = np.bincount(first, minlength=int(corners.max(initial=-1)) + 1)
    single = np.flatnonzero(leaves[first] == 1)
    side_from = np.full(len(leaves), -1, np.int64)
    side_from[first[single]] = single
    one = np.arange(len(sides))
    two = side_from[last]
    three = np.where(two >= 0, side_from[last[two]], -1)
    back = np.where(three >= 0, side_from[last[three]], -1)
    closes = (two >= 0) & (three >= 0) & (back == one) & (one < two) & (one < three) & (side_from[first] == one)
    loops = sides[np.stack([one[closes], two[closes], three[closes]], axis=1)]
    of_one = loops // 3
    loops = loops[(of_one[:, 0] != of_one[:, 1]) & (of_one[:, 1] != of_one[:, 2]) & (of_one[:, 2] != of_one[:, 0])]
    pieces = int(label.max(initial=-1)) + 1
    open_edges = np.bincount(label[sides // 3], minlength=pieces)
    in_loops = 3 * np.bincount(label[loops[:, 0] // 3], minlength=pieces)
    size = np.bincount(label, minlength=pieces)
    sound = (open_edges == in_loops) & (size >= WHOLE)
    found: NDArray[np.int64] = loops[sound[label[loops[:, 0] // 3]]]
    return found


def unwelded_sides(
    xyz: NDArray[np.float64],
    faces: NDArray[np.float64],
    corners: NDArray[np.int32],
    sides: NDArray[np.int64],
    reach: float,
) -> NDArray[np.int64]:
    """Sides of open edges that lie along another open edge, both ends within `reach`, and would be one with it if they were
    welded; one of each two, ascending.

    xyz: (3, 3, m) corner columns. faces: (3, m) products of two sides, along the front.
    """
    none = np.zeros(0, np.int64)
    if len(sides) < 2 or reach <= 0.0:
        return none
    start, end = sides, next_sides(sides)
    points = np.concatenate([corner_points(xyz, side).T for side in (start, end)])
    own = corners.reshape(-1)[np.concatenate([start, end])]
    _, first, of = np.unique(own, return_index=True, return_inverse=True)
    place, heaps = _together(points[first], reach)
    if heaps == len(first):
        return none
    place = place[of.reshape(-1)]
    a, b = place[: len(sides)], place[len(sides) :]
    length = np.sqrt(((points[: len(sides)] - points[len(sides) :]) ** 2).sum(axis=1))
    # Each open edge as a side of a triangle of its own: what has one partner that runs the other way closes.
    mates = edge_mates(np.stack([a, b, np.full(len(a), -1)], axis=1).astype(np.int32))[::3]
    rows = np.flatnonzero(mates >= 0)
    order = rows[np.argsort(mates[rows], kind="stable")]
    opens = np.flatnonzero(np.append(True, mates[order][1:] != mates[order][:-1])) if len(order) else order
    pairs = opens[np.diff(np.append(opens, len(order))) == 2]
    one, other = order[pairs], order[pairs + 1]
    normal = faces[:, sides // 3] / np.maximum(np.sqrt((faces[:, sides // 3] ** 2).sum(axis=0)), np.finfo(float).tiny)
    apart = np.sqrt(
        np.maximum(
            ((points[one] - points[len(sides) + other]) ** 2).sum(axis=1),
            ((points[len(sides) + one] - points[other]) ** 2).sum(axis=1),
        )
    )
    meets = (a[one] == b[other]) & (apart <= reach) & (apart <= OF_AN_EDGE * np.minimum(length[one], length[other]))
    meets &= (normal[:, one] * normal[:, other]).sum(axis=0) > BACK
    return np.sort(np.minimum(sides[one], sides[other])[meets])


def _together(points: NDArray[np.float64], reach: float) -> tuple[NDArray[np.int32], int]:
    """(n,) number of the heap each point is in, and how many heaps there are: points hang together that are no further apart
    than `reach` along each axis.

    Such two lie in one cell of a grid twice as wide, or of one of those moved by half a cell along some axes. In a cell each is
    held against the next ones upwards, at most _NEXT of them.
    """
    one, other = [np.zeros(0, np.int64)], [np.zeros(0, np.int64)]
    rows = _with_neighbours(points, reach)
    few = points[rows]
    for shift in product((0.0, 0.5), repeat=3):
        cell = np.floor(few / (2.0 * reach) + np.array(shift))
        order = np.lexsort((*few.T, *cell.T))
        cell, row = cell[order], rows[order]
        number = np.append(0, np.cumsum((cell[1:] != cell[:-1]).any(axis=1)))
        x, y, z = (np.ascontiguousarray(few[order, axis]) for axis in range(3))
        low = np.arange(len(order))
        for step in range(1, _NEXT + 1):
            low = low[low + step < len(order)]
            high = low + step
            low = low[(number.take(high) == number.take(low)) & (z.take(high) - z.take(low) <= reach)]
            if not len(low):
                break
            high = low + step
            near = (np.abs(x.take(high) - x.take(low)) <= reach) & (np.abs(y.take(high) - y.take(low)) <= reach)
            one.append(row[low[near]])
            other.append(row[high[near]])
    return components(np.concatenate(one), np.concatenate(other), len(points))


def _with_neighbours(points: NDArray[np.float64], reach: float) -> NDArray[np.int64]:
    """Rows of the points that may lie near another one: few as a rule, and all that do are there. What has no neighbour along
    one axis among those it hangs together with along the others is left out."""
    rows = np.arange(len(points))
    heap = np.zeros(len(points), np.int64)
    for axis in (0, 1, 2, 0, 1, 2):
        values = points[rows, axis]
        order = np.lexsort((values, heap))
        values, heap = values[order], heap[order]
        opens = np.append(True, (heap[1:] != heap[:-1]) | (np.diff(values) > reach))
        alone = opens & np.append(opens[1:], True)
        rows, heap = rows[order][~alone], np.cumsum(opens)[~alone]
        if not len(rows):
            break
    return np.sort(rows)
