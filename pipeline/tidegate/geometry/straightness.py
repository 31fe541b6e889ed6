"""Island borders that were meant to be straight, or to run along the tile's axes, and just miss it.

A border that runs along a row of texels can be painted to the edge; one that leans by a texel over its length makes a
staircase. A lean or a bow far larger than that is taken to be meant.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from .borders import side_points

_EXACT = 1e-3  # texels
_TELLS = 4.0  # texels: shorter borders tell no direction
_ALIKE = (0.2, 0.2)  # of the lean, and degrees, that borders of a turned island may lean apart


class Runs(NamedTuple):
    """Straight or nearly straight stretches of borders. start, end: (2, r) their ends in texels. island: (r,) int32.
    sides: (r,) how many border sides. bow: (r,) texels by which the point farthest off the line from end to end is off."""

    start: NDArray[np.float64]
    end: NDArray[np.float64]
    island: NDArray[np.int32]
    sides: NDArray[np.int64]
    bow: NDArray[np.float64]


def border_runs(
    texels: NDArray[np.float64],
    corners: NDArray[np.int32],
    borders: NDArray[np.int64],
    labels: NDArray[np.int32],
    turn: float = 5.0,
) -> Runs:
    """Cuts every border where it turns by more than `turn` degrees, and wherever strands meet.

    texels: (3, 2, m) corner columns in texels; corners: (m, 3) welded ids; borders: `borders.border_sides`.
    A closed border without such a turn (a circle of many sides) is one run that ends where it starts.
    """
    return _runs(texels, corners, borders, labels, turn)[0]


def _runs(
    texels: NDArray[np.float64],
    corners: NDArray[np.int32],
    borders: NDArray[np.int64],
    labels: NDArray[np.int32],
    turn: float,
) -> tuple[Runs, NDArray[np.int64]]:
    """The runs, and which of them each border side is in."""
    start, end = side_points(texels, borders)
    island = labels[borders // 3]
    after = _following(corners, borders, island)
    along = end - start
    following = np.maximum(after, 0)
    cross = along[0] * along[1, following] - along[1] * along[0, following]
    inner = along[0] * along[0, following] + along[1] * along[1, following]
    goes_on = (after >= 0) & (np.degrees(np.arctan2(np.abs(cross), inner)) <= turn)
    chain = np.where(goes_on, after, -1)
    run, place = _walk(chain)
    order = np.lexsort((place, run))
    opens = np.flatnonzero(np.append(True, run[order][1:] != run[order][:-1])) if len(order) else order
    size = np.diff(np.append(opens, len(order)))
    head = order[opens]
    tail = order[opens + size - 1]
    first, last = start[:, head], end[:, tail]
    chord = last - first
    length = np.hypot(chord[0], chord[1])
    number = np.empty(len(order), np.int64)
    number[order] = np.repeat(np.arange(len(opens)), size)
    reach = end - first[:, number]
    with np.errstate(divide="ignore", invalid="ignore"):
        off = np.abs(chord[0, number] * reach[1] - chord[1, number] * reach[0]) / length[number]
    # A run that closes has no line from end to end; its points are measured from where it starts.
    off = np.where(length[number] > 0.0, off, np.hypot(reach[0], reach[1]))
    bow = np.zeros(len(opens))
    np.maximum.at(bow, number, off)
    return Runs(first, last, island[head], size, bow), number


def straight_stretches(
    texels: NDArray[np.float64], corners: NDArray[np.int32], borders: NDArray[np.int64], labels: NDArray[np.int32]
) -> tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.int32]]:
    """Start and end (2, b) and island (b,) of the borders in as few segments as hold them to a thousandth of a texel.

    What `spacing.island_gaps` wants: a finely cut straight border is one segment and not a hundred.
    """
    runs, run_of = _runs(texels, corners, borders, labels, turn=0.01)
    straight = (runs.bow <= _EXACT) & (np.hypot(*(runs.end - runs.start)) > 0.0)
    rest = ~straight[run_of]
    start, end = side_points(texels, borders[rest])
    return (
        np.concatenate([runs.start[:, straight], start], axis=1),
        np.concatenate([runs.end[:, straight], end], axis=1),
        np.concatenate([runs.island[straight], labels[borders[rest] // 3]]),
    )


def axis_offsets(runs: Runs) -> NDArray[np.float64]:
    """(r,) texels by which each run strays from the nearer axis between its ends: 0 runs along a row or column."""
    chord = np.abs(runs.end - runs.start)
    offsets: NDArray[np.float64] = np.minimum(chord[0], chord[1])
    return offsets


def nearly_along_axis(runs: Runs, least: float, most: float, degrees: float = 5.0) -> NDArray[np.bool_]:
    """(r,) whether a run strays from an axis by more than `least` and at most `most` texels, at a slant of at most that
    many degrees."""
    chord = np.abs(runs.end - runs.start)
    off, length = np.minimum(chord[0], chord[1]), np.maximum(chord[0], chord[1])
    slanted: NDArray[np.bool_] = (off > least) & (off <= most) & (off <= np.tan(np.radians(degrees)) * length)
    return slanted


def turned_whole(runs: Runs, count: int) -> NDArray[np.float64]:
    """(count,) degrees, counter-clockwise, by which each island is turned off the axes, -45 to 45: all of its borders lean
    by that much. NaN where they do not lean alike, or are not straight."""
    chord = runs.end - runs.start
    length = np.hypot(chord[0], chord[1])
    tells = length >= _TELLS
    lean = (np.degrees(np.arctan2(chord[1], chord[0])) + 45.0) % 90.0 - 45.0
    low, high = np.full(count, np.inf), np.full(count, -np.inf)
    np.minimum.at(low, runs.island[tells], lean[tells])
    np.maximum.at(high, runs.island[tells], lean[tells])
    bent = np.zeros(count, np.bool_)
    bent[runs.island[tells & (runs.bow > np.radians(_ALIKE[1]) * length)]] = True
    with np.errstate(invalid="ignore"):
        middle = (low + high) / 2.0
        alike = high - low <= np.minimum(_ALIKE[0] * np.abs(middle), _ALIKE[1])
    turned: NDArray[np.float64] = np.where(alike & ~bent, middle, np.nan)
    return turned


def nearly_straight(runs: Runs, least: float, most: float, share: float = 0.02) -> NDArray[np.bool_]:
    """(r,) whether a run bows by more than `least` and at most `most` texels, and by at most that share of its length."""
    chord = runs.end - runs.start
    length = np.hypot(chord[0], chord[1])
    bowed: NDArray[np.bool_] = (runs.bow > least) & (runs.bow <= most) & (runs.bow <= share * length)
    return bowed


def _following(corners: NDArray[np.int32], borders: NDArray[np.int64], island: NDArray[np.int32]) -> NDArray[np.int64]:
    """Row of the border side that goes on where each one ends, -1 where none or several do."""
    ids = np.ascontiguousarray(corners).reshape(-1).astype(np.int64)
    # (island, id) in one number: both are below 2^31.
    leaves = island.astype(np.int64) << 32 | ids[borders]
    arrives = island.astype(np.int64) << 32 | ids[(borders // 3) * 3 + (borders % 3 + 1) % 3]
    order = np.argsort(leaves, kind="stable")
    low = np.searchsorted(leaves, arrives, side="left", sorter=order)
    high = np.searchsorted(leaves, arrives, side="right", sorter=order)
    single = high - low == 1
    after = np.full(len(borders), -1, np.int64)
    after[single] = order[low[single]]
    # Two sides that run into the same one: strands meet, and no side follows the other.
    inward = np.bincount(after[after >= 0], minlength=len(borders))
    after[(after >= 0) & (inward[np.maximum(after, 0)] > 1)] = -1
    return after


def _walk(chain: NDArray[np.int64]) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """Which run every row is in, named by one of its rows, and its place in it. chain: row that follows, -1 at an end.

    Jumps double with every round. A ring is opened at its lowest row first.
    """
    count = len(chain)
    before = np.full(count, -1, np.int64)
    linked = np.flatnonzero(chain >= 0)
    before[chain[linked]] = linked
    head, steps = _to_head(before)
    ring = before[head] >= 0 if count else np.zeros(0, np.bool_)
    if ring.any():
        lowest = np.arange(count)
        hop = np.where(before >= 0, before, np.arange(count))
        for _ in range(max(count, 2).bit_length()):
            lowest = np.minimum(lowest, lowest[hop])
            hop = hop[hop]
        before[np.unique(lowest[ring])] = -1
        head, steps = _to_head(before)
    return head, steps


def _to_head(before: NDArray[np.int64]) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    count = len(before)
    hop = np.where(before >= 0, before, np.arange(count))
    steps = (before >= 0).astype(np.int64)
    for _ in range(max(count, 2).bit_length()):
        steps = steps + steps[hop]
        further = hop[hop]
        if np.array_equal(further, hop):
            break
        hop = further
    return hop, steps
