"""Texels that islands share on a map that is repeated without end.

What lies beyond a border comes in again on the other side, and an island larger than the map lies over itself. Nothing is
copied from tile to tile: a run of texels is folded onto the map where it is drawn, and whole maps in it count at once. An
island that fills two whole maps by itself covers every texel twice, so it is drawn as that, however far it goes on.
"""

from __future__ import annotations

from collections.abc import Iterator
from functools import partial
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from .areas import island_sums, uv_areas
from .overlap import overlap_of_runs
from .raster import Spans, coverage, spans

MOST_ROWS = 1 << 23  # rows of texels that are drawn, over all triangles taller than the map
FEW_ROWS = MOST_ROWS >> 4  # as many are drawn without asking whether an island fills the map
_PROBED = 8  # islands asked whether they fill the map, the largest first


class WrappedOverlap(NamedTuple):
    """group: (i,) int32 group of each island, -1 for one that shares no texel. group_texels: (g,) int64 texels that each
    group shares. complete: whether everything was drawn; otherwise there may be more, and what is told is there."""

    group: NDArray[np.int32]
    group_texels: NDArray[np.int64]
    complete: bool


def wrapped_overlap(
    texels: NDArray[np.float64],
    labels: NDArray[np.int32],
    count: int,
    width: int,
    height: int,
    axes: tuple[bool, bool] = (True, True),
) -> WrappedOverlap:
    """Overlap on a map of width x height texels that is repeated along `axes` (across, up).

    texels: (3, 2, m) finite corner columns in texels, anywhere. labels: (m,) island of each triangle.
    """
    if not len(labels):
        return WrappedOverlap(np.full(count, -1, np.int32), np.zeros(0, np.int64), True)
    size = np.array([width, height], np.float64)
    if not axes[1]:
        return _drawn(texels, labels, count, width, height, axes, True)  # no triangle has more rows than the map
    rows = _rows(texels)
    filled = -1
    if int(rows[rows > height].sum()) > FEW_ROWS:
        lines = _rows(texels[:, ::-1])
        if not axes[0] or 2.0 * lines[lines > width].sum() <= rows[rows > height].sum():
            # Long strips that run up the map: with its axes exchanged they lie along its rows, where length costs nothing.
            turned = np.ascontiguousarray(texels[:, ::-1])
            return wrapped_overlap(turned, labels, count, height, width, (axes[1], axes[0]))
        filled = _filling(texels, labels, count, size, axes)
    if filled >= 0:
        kept = labels != filled
        texels = np.concatenate([texels[:, :, kept], *[_whole_map(size)] * 2], axis=2)
        labels = np.append(labels[kept], np.full(4, filled, np.int32)).astype(np.int32)
        rows = _rows(texels)
    drawn = _within(rows, height)
    if not drawn.all():
        texels, labels = texels[:, :, drawn], labels[drawn]
    return _drawn(texels, labels, count, width, height, axes, bool(drawn.all()))


def _drawn(
    texels: NDArray[np.float64],
    labels: NDArray[np.int32],
    count: int,
    width: int,
    height: int,
    axes: tuple[bool, bool],
    complete: bool,
) -> WrappedOverlap:
    texels = _brought_near(texels, labels, count, np.array([width, height], np.float64), axes)
    runs = partial(_folded_runs, texels, width, height, axes)
    found = overlap_of_runs(runs, labels, count, width, height)
    return WrappedOverlap(found.group, found.group_texels, complete)


def _rows(texels: NDArray[np.float64]) -> NDArray[np.float64]:
    """(m,) rows of texels each triangle reaches into, at most."""
    rows: NDArray[np.float64] = np.ceil(texels[:, 1].max(axis=0)) - np.floor(texels[:, 1].min(axis=0))
    return rows


def _within(rows: NDArray[np.float64], height: int) -> NDArray[np.bool_]:
    """Triangles that are drawn: as many of those taller than the map as MOST_ROWS allows, the lower first. Those of equal
    height are drawn all or none, so their order decides nothing."""
    tall = np.sort(rows[rows > height])
    fit = int(np.searchsorted(np.cumsum(tall), MOST_ROWS, side="right"))
    if fit == len(tall):
        return np.ones(len(rows), np.bool_)
    drawn: NDArray[np.bool_] = rows < tall[fit]
    return drawn


def _brought_near(
    texels: NDArray[np.float64],
    labels: NDArray[np.int32],
    count: int,
    size: NDArray[np.float64],
    axes: tuple[bool, bool],
) -> NDArray[np.float64]:
    """Every island moved by whole maps until it starts in the first. Whole islands, so that edges inside one keep their bits."""
    near = texels.copy()
    for axis in range(2):
        if axes[axis]:
            low = np.full(count, np.inf)
            np.minimum.at(low, labels, texels[:, axis].min(axis=0))
            moves = np.where(np.isfinite(low), np.floor(low / size[axis]) * size[axis], 0.0)
            near[:, axis] -= moves[labels]
    return near


def _filling(
    texels: NDArray[np.float64],
    labels: NDArray[np.int32],
    count: int,
    size: NDArray[np.float64],
    axes: tuple[bool, bool],
) -> int:
    """An island that fills two whole maps about its middle, or -1 where none is found."""
    area = np.abs(uv_areas(texels))
    total = island_sums(area, labels, count)
    order = np.argsort(-total, kind="stable")[:_PROBED]
    for island in order[total[order] >= 2.0 * size[0] * size[1]].tolist():
        mine = np.flatnonzero(labels == island)
        own = texels[:, :, mine]
        middle = (own.mean(axis=0) * area[mine]).sum(axis=1) / area[mine].sum()
        reach = (own.max(axis=(0, 2)) - own.min(axis=(0, 2))) / size
        step = np.array([1.0, 0.0]) if axes[0] and reach[0] >= reach[1] else np.array([0.0, 1.0])
        home = np.floor(middle / size) * np.array(axes)
        filled = sum(_fills(own, (home + k * step) * size, size) for k in (0, 1, -1))
        if filled >= 2:
            return int(island)
    return -1


def _fills(texels: NDArray[np.float64], corner: NDArray[np.float64], size: NDArray[np.float64]) -> bool:
    """Whether every texel of the map that starts at `corner` is covered."""
    return bool(coverage(texels - corner[None, :, None], int(size[0]), int(size[1])).min() > 0)


def _whole_map(size: NDArray[np.float64]) -> NDArray[np.float64]:
    """(3, 2, 2) two triangles that cover the map."""
    corners = np.array([[(0, 0), (1, 0), (1, 1)], [(0, 0), (1, 1), (0, 1)]], np.float64) * size
    return corners.transpose(1, 2, 0)


def _folded_runs(
    texels: NDArray[np.float64], width: int, height: int, axes: tuple[bool, bool], first_row: int, end_row: int
) -> Iterator[Spans]:
    """Runs of triangles near the first map, folded onto its rows first_row <= row < end_row. A run longer than the map is told
    as the whole row, once or twice, and what is left of it: a texel covered more often than twice is shared all the same."""
    far = np.ceil(texels.max(axis=(0, 2), initial=0.0)).astype(np.int64)
    across = max(int(far[0]), width) if axes[0] else width
    if axes[1] and far[1] > height:
        drawn = spans(texels, across, int(far[1]))
    else:
        drawn = spans(texels, across, height, first_row, end_row)
    for run in drawn:
        row = run.row % np.int32(height)
        here = np.flatnonzero((row >= first_row) & (row < end_row))
        left, right, triangle = run.left[here], run.right[here], run.triangle[here]
        row = row[here]
        if across == width:
            yield Spans(row, left, right, triangle)
            continue
        times, rest = np.divmod(right - left, np.int32(width))
        start = left % np.int32(width)
        stop = start + rest
        zero, whole = np.zeros_like(start), np.full_like(start, width)
        pieces = [
            (start, np.minimum(stop, whole), rest > 0),
            (zero, stop - width, stop > width),
            (zero, whole, times > 0),
            (zero, whole, times > 1),
        ]
        chosen = [np.flatnonzero(there) for _, _, there in pieces]
        order = np.concatenate(chosen)
        yield Spans(
            row[order],
            np.concatenate([begin[some] for (begin, _, _), some in zip(pieces, chosen, strict=True)]),
            np.concatenate([end[some] for (_, end, _), some in zip(pieces, chosen, strict=True)]),
            triangle[order],
        )
