"""Texels that are covered more than once, and which islands share them.

Islands are gathered into groups and never into pairs: a thousand islands on one spot are one group. Within a row of
texels, runs that share a texel form a chain, so a single sweep over sorted runs finds every group.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from functools import partial
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from .components import components
from .raster import Spans, spans

_AT_ONCE = 1 << 25  # runs and shared texels in work at a time

Runs = Callable[[int, int], Iterator[Spans]]
"""Runs of covered texels in the rows first <= row < end, as `raster.spans` gives them."""


class Overlap(NamedTuple):
    """covered: (height, width) int32 triangles on each texel. texels: texels on which two or more triangles lie;
    between: those of them on which two or more islands lie.
    group: (i,) int32 group of each island, -1 for one that shares no texel; a group of one overlaps only itself.
    group_texels, group_between: (g,) int64 texels as above of each group. group_box: (g, 4) int32 x0, y0, x1, y1 half-open
    around them. own: (i,) int64 texels on which only triangles of that one island lie, twice or more."""

    covered: NDArray[np.int32]
    texels: int
    between: int
    group: NDArray[np.int32]
    group_texels: NDArray[np.int64]
    group_between: NDArray[np.int64]
    group_box: NDArray[np.int32]
    own: NDArray[np.int64]


def measure_overlap(
    texels: NDArray[np.float64],
    labels: NDArray[np.int32],
    count: int,
    width: int,
    height: int,
    twin_of: NDArray[np.int32] | None = None,
) -> Overlap:
    """Overlap inside the window of width x height texels.

    texels: (3, 2, m) finite corner columns in texels. labels: (m,) island of each triangle, -1 to leave it out.
    twin_of: (count,) for each island one that covers the very same triangles in the tile, itself where there is none
    (`stacks.identical_islands`): twins are drawn once and counted as often as they are there.
    """
    times = None
    if twin_of is not None and not np.array_equal(twin_of, np.arange(count)):
        times = np.bincount(twin_of, minlength=count).astype(np.int64)
        stands = np.append(twin_of == np.arange(count), False)  # label -1 reads the last entry
        drawn = np.flatnonzero(stands[labels])
    else:
        drawn = np.flatnonzero(labels >= 0)
    if len(drawn) < len(labels):
        texels, labels = np.ascontiguousarray(texels[:, :, drawn]), labels[drawn]
    return overlap_of_runs(partial(spans, texels, width, height), labels, count, width, height, times, twin_of)


def overlap_of_runs(
    runs: Runs,
    labels: NDArray[np.int32],
    count: int,
    width: int,
    height: int,
    times: NDArray[np.int64] | None = None,
    twin_of: NDArray[np.int32] | None = None,
) -> Overlap:
    """Overlap of what the runs cover; as `measure_overlap`. times: (count,) how often each island that is drawn is there."""
    # With twins, `covered` counts every twin; the weights of their runs stand in for the runs that are not drawn.
    covered = _covered(runs, labels, times, width, height)
    if covered.size == 0 or int(covered.max()) < 2:
        none = np.zeros(0, np.int64)
        box = np.zeros((0, 4), np.int32)
        return Overlap(covered, 0, 0, np.full(count, -1, np.int32), none, none, box, np.zeros(count, np.int64))

    shared = covered > 1
    before = np.zeros(width * height + 1, np.int32)
    np.cumsum(shared.ravel(), out=before[1:])
    flat = np.flatnonzero(shared.ravel())
    chains = [
        _chains(runs, labels, times, width, first, end, before, covered) for first, end in _bands(covered, shared, runs)
    ]
    pairs = [np.concatenate([chain.pairs[side] for chain in chains]) for side in range(2)]
    touched = np.zeros(count, np.bool_)
    for chain in chains:
        for islands in (chain.member, *chain.pairs):
            touched[islands] = True
    if times is not None and twin_of is not None:
        touched = touched[twin_of]
        pairs = [np.append(pairs[0], twin_of), np.append(pairs[1], np.arange(count))]
    joined, total = components(pairs[0], pairs[1], count)
    hit = np.zeros(total, np.bool_)
    hit[joined[touched]] = True
    number = np.cumsum(hit, dtype=np.int32) - 1
    group = np.where(touched, number[joined], np.int32(-1)).astype(np.int32)
    groups = int(np.count_nonzero(hit))

    start = np.concatenate([chain.start for chain in chains])
    end = np.append(start[1:], len(flat))
    home = group[np.concatenate([chain.member for chain in chains])]
    between = np.concatenate([chain.between for chain in chains])
    group_texels, group_between = np.zeros(groups, np.int64), np.zeros(groups, np.int64)
    np.add.at(group_texels, home, end - start)
    np.add.at(group_between, home, between)
    box = np.empty((groups, 4), np.int32)
    box[:, :2], box[:, 2:] = np.iinfo(np.int32).max, -1
    # A chain lies within one row, for runs do.
    row, left, right = flat[start] // width, flat[start] % width, flat[end - 1] % width + 1
    np.minimum.at(box[:, 0], home, left.astype(np.int32))
    np.minimum.at(box[:, 1], home, row.astype(np.int32))
    np.maximum.at(box[:, 2], home, right.astype(np.int32))
    np.maximum.at(box[:, 3], home, (row + 1).astype(np.int32))
    own = np.zeros(count, np.int64)
    for chain in chains:
        own[: len(chain.own)] += chain.own
    return Overlap(covered, len(flat), int(group_between.sum()), group, group_texels, group_between, box, own)


class _Chains(NamedTuple):
    """Runs that hang together by shared texels: start among the shared texels, one member island, texels between
    islands; pairs of islands that share a texel; own texels per island."""

    start: NDArray[np.int64]
    member: NDArray[np.int32]
    between: NDArray[np.int64]
    pairs: tuple[NDArray[np.int32], NDArray[np.int32]]
    own: NDArray[np.int64]


def _covered(
    runs: Runs, labels: NDArray[np.int32], times: NDArray[np.int64] | None, width: int, height: int
) -> NDArray[np.int32]:
    steps = np.zeros(height * (width + 1), np.int32)
    for run in runs(0, height):
        weight = np.int32(1) if times is None else times[labels[run.triangle]].astype(np.int32)
        base = run.row.astype(np.int64) * (width + 1)
        np.add.at(steps, base + run.left, weight)
        np.subtract.at(steps, base + run.right, weight)
    np.cumsum(steps, out=steps)  # every run ends in its own row, so rows do not leak into each other
    return np.ascontiguousarray(steps.reshape(height, width + 1)[:, :width])


def _bands(covered: NDArray[np.int32], shared: NDArray[np.bool_], runs: Runs) -> list[tuple[int, int]]:
    # Rows are taken together as long as the runs over shared texels, at most one per texel and triangle, stay bounded.
    each = np.where(shared, covered, 0).sum(axis=1, dtype=np.int64)
    if each.sum() > _AT_ONCE:
        drawn = np.zeros(len(each), np.int64)
        for run in runs(0, len(each)):
            drawn += np.bincount(run.row, minlength=len(each))
        each = np.minimum(each, drawn + np.count_nonzero(shared, axis=1))
    load = np.cumsum(each)
    bands: list[tuple[int, int]] = []
    row, done = 0, 0
    while row < len(load) and done < load[-1]:
        end = max(row + 1, int(np.searchsorted(load, done + _AT_ONCE, side="right")))
        if load[end - 1] > done:
            bands.append((row, end))
        row, done = end, int(load[end - 1])
    return bands


def _chains(
    runs: Runs,
    labels: NDArray[np.int32],
    times: NDArray[np.int64] | None,
    width: int,
    first_row: int,
    end_row: int,
    before: NDArray[np.int32],
    covered: NDArray[np.int32],
) -> _Chains:
    # Shared texels are numbered row by row without the others between them: a run becomes an interval of such numbers.
    starts, ends, islands = [], [], []
    for run in runs(first_row, end_row):
        base = run.row.astype(np.int64) * width
        start, end = before.take(base + run.left), before.take(base + run.right)
        hit = np.flatnonzero(end > start)
        starts.append(start[hit])
        ends.append(end[hit])
        islands.append(labels.take(run.triangle.take(hit)))
    start, end, island = (np.concatenate(parts) for parts in (starts, ends, islands))
    order = np.argsort(start, kind="stable")
    start, end, island = start[order], end[order], island[order]
    # The run that reaches furthest so far: whatever overlaps an earlier run overlaps this one.
    furthest = np.maximum.accumulate((end.astype(np.int64) << 32) | np.arange(len(end)))
    reach, holder = furthest[:-1] >> 32, furthest[:-1] & 0xFFFFFFFF
    linked = np.flatnonzero(start[1:] < reach)
    one, other = island[linked + 1], island[holder[linked]]
    differ = one != other
    opens = np.flatnonzero(np.append(True, start[1:] >= reach))

    origin = int(before[first_row * width])
    span = int(before[end_row * width]) - origin
    # Sum of labels and of their squares over each texel: all labels agree exactly when sum of (label - mean)^2 is 0.
    # Sums are exact modulo 2^64, and that sum is far below 2^64.
    weight = np.ones(1, np.int64) if times is None else times[island]
    first, second = np.zeros(span + 1, np.int64), np.zeros(span + 1, np.int64)
    value = island.astype(np.int64)
    for sums, amount in ((first, value * weight), (second, value * value * weight)):
        np.add.at(sums, start - origin, amount)
        np.subtract.at(sums, end - origin, amount)
        np.cumsum(sums, out=sums)
    band = covered[first_row:end_row]
    times_covered = band[band > 1].astype(np.int64)
    mean = first[:-1] // times_covered
    spread = second[:-1] - 2 * mean * first[:-1] + times_covered * mean * mean
    alone = (first[:-1] == mean * times_covered) & (spread == 0)
    if times is not None:
        alone &= times[np.where(alone, mean, 0)] == 1
    own = np.bincount(mean[alone], minlength=0).astype(np.int64)
    crossed = np.append(0, np.cumsum(~alone))
    bounds = np.append(start[opens], origin + span) - origin
    return _Chains(
        start[opens].astype(np.int64),
        island[opens],
        (crossed[bounds[1:]] - crossed[bounds[:-1]]).astype(np.int64),
        (one[differ], other[differ]),
        own,
    )
