"""Triangles as rows of texels: a texel is covered when its centre is, edges half-open.

A centre on an edge shared by two triangles belongs to exactly one of them, so a texel covered twice is covered twice in
truth (the rule of Vulkan, "Polygon Rasterization": of two polygons that share an edge on which a sample lies exactly
one covers it). Of a rectangle between texel centres, the centres at its low x and low y are inside, the others not.

Layouts love to lie exactly on centres, where rounding would decide. So every centre is sampled a millionth of a
texel up and to the right of itself: what lies on it has lain to one side of it before anything is computed, and two
islands that touch along an edge which only one of them divides never share a texel.

Coordinates are texels, x to the right from the window's left border, y from the border of row 0; whether rows run up or
down is the caller's affair.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from .batches import batches

_NUDGE_X = 2.0**-20
_NUDGE_Y = 0.38 * 2.0**-20  # not the same: an edge at 45 degrees through a centre would be hit again
_ROWS_AT_ONCE = 1 << 18  # rows of triangles worked on at a time; bounds the memory
_TRIANGLES_AT_ONCE = 1 << 16


class Spans(NamedTuple):
    """Runs of covered texels: row, left and right (half-open) of each, and which triangle. Empty runs are left out."""

    row: NDArray[np.int32]
    left: NDArray[np.int32]
    right: NDArray[np.int32]
    triangle: NDArray[np.int32]


def texel_columns(uv: NDArray[np.float64], width: int, height: int) -> NDArray[np.float64]:
    """(3, 2, m) corner columns in texels from corner columns in UV units: rows run up, as V does."""
    size = np.array([float(width), float(height)])
    texels: NDArray[np.float64] = uv * size[None, :, None]
    return texels


def spans(
    texels: NDArray[np.float64], width: int, height: int, first_row: int = 0, end_row: int | None = None
) -> Iterator[Spans]:
    """Every run of texels covered by the triangles inside the window, some triangles at a time, in their order.

    texels: (3, 2, m) finite corner columns in texels. Runs outside rows first_row <= row < end_row (height) are left out.
    """
    end = height if end_row is None else end_row
    for start in range(0, texels.shape[2], _TRIANGLES_AT_ONCE):
        block = texels[:, :, start : start + _TRIANGLES_AT_ONCE]
        edges = _edges(block, width, first_row, end)
        if edges is None:
            continue
        edges = edges.in_pieces(_ROWS_AT_ONCE)
        for begin, stop in batches(edges.end - edges.first, _ROWS_AT_ONCE):
            part = edges.part(begin, stop)
            found = _cross(part, width)
            yield Spans(found.row, found.left, found.right, part.triangle.take(found.triangle) + np.int32(start))


class _Edges(NamedTuple):
    """Triangles with their corners sorted by height, samples at whole numbers: rows first..end, corners a below b below c,
    and which triangles of the block they are."""

    first: NDArray[np.int64]
    end: NDArray[np.int64]
    ax: NDArray[np.float64]
    ay: NDArray[np.float64]
    bx: NDArray[np.float64]
    by: NDArray[np.float64]
    cx: NDArray[np.float64]
    cy: NDArray[np.float64]
    triangle: NDArray[np.int32]

    def part(self, begin: int, stop: int) -> _Edges:
        cut = slice(begin, stop)
        first, end, ax, ay, bx, by, cx, cy, triangle = self
        return _Edges(first[cut], end[cut], ax[cut], ay[cut], bx[cut], by[cut], cx[cut], cy[cut], triangle[cut])

    def in_pieces(self, rows: int) -> _Edges:
        """The same, triangles of more rows than that in several pieces, so that one triangle fills no memory."""
        height = self.end - self.first
        if height.max() <= rows:
            return self
        pieces = -(-height // rows)
        which = np.repeat(np.arange(len(height)), pieces)
        step = np.arange(len(which)) - np.repeat(np.cumsum(pieces) - pieces, pieces)
        first = self.first[which] + step * rows
        end = np.minimum(first + rows, self.end[which])
        ax, ay, bx, by, cx, cy, triangle = self[2:]
        return _Edges(first, end, ax[which], ay[which], bx[which], by[which], cx[which], cy[which], triangle[which])


def _edges(block: NDArray[np.float64], width: int, first_row: int, end_row: int) -> _Edges | None:
    # Only row and column numbers are clipped: to clip a vertex that lies far away would bend its edges.
    x0, x1, x2 = (block[corner, 0] - (0.5 + _NUDGE_X) for corner in range(3))
    y0, y1, y2 = (block[corner, 1] - (0.5 + _NUDGE_Y) for corner in range(3))
    first = np.clip(np.ceil(np.minimum(np.minimum(y0, y1), y2)), first_row, end_row)
    end = np.clip(np.ceil(np.maximum(np.maximum(y0, y1), y2)), first_row, end_row)
    left = np.ceil(np.minimum(np.minimum(x0, x1), x2))
    right = np.ceil(np.maximum(np.maximum(x0, x1), x2))
    kept = np.flatnonzero((end > first) & (right > left) & (right > 0.0) & (left < width))
    if len(kept) == 0:
        return None
    ax, bx, cx, ay, by, cy = (column.take(kept) for column in (x0, x1, x2, y0, y1, y2))
    # Corners of equal height may stand in either order: the edge between them crosses no row.
    ax, ay, bx, by = _lower_first(ax, ay, bx, by)
    bx, by, cx, cy = _lower_first(bx, by, cx, cy)
    ax, ay, bx, by = _lower_first(ax, ay, bx, by)
    rows = first.take(kept).astype(np.int64), end.take(kept).astype(np.int64)
    return _Edges(*rows, ax, ay, bx, by, cx, cy, kept.astype(np.int32))


def _lower_first(
    px: NDArray[np.float64], py: NDArray[np.float64], qx: NDArray[np.float64], qy: NDArray[np.float64]
) -> tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.float64], NDArray[np.float64]]:
    swap = qy < py
    return np.where(swap, qx, px), np.minimum(py, qy), np.where(swap, px, qx), np.maximum(py, qy)


def _cross(edges: _Edges, width: int) -> Spans:
    ax, ay, bx, by, cx, cy = edges[2:8]
    height = edges.end - edges.first
    triangle = np.repeat(np.arange(len(height)), height)
    offset = np.cumsum(height) - height
    row = np.arange(len(triangle)) - (offset - edges.first).take(triangle)
    y = row.astype(np.float64)
    with np.errstate(divide="ignore", invalid="ignore"):
        # Of every edge from its lower to its upper end, whichever triangle asks: both get the same bits.
        long_slope = (cx - ax) / (cy - ay)
        slopes = np.concatenate([(bx - ax) / (by - ay), (cx - bx) / (cy - by)])
    one = y - ay.take(triangle)
    one *= long_slope.take(triangle)
    one += ax.take(triangle)
    foot = triangle + len(height) * (y >= by.take(triangle))  # which of the two short edges
    other = y - np.concatenate([ay, by]).take(foot)
    other *= slopes.take(foot)
    other += np.concatenate([ax, bx]).take(foot)
    left = np.clip(np.ceil(np.minimum(one, other)), 0, width)
    right = np.clip(np.ceil(np.maximum(one, other)), 0, width)
    filled = np.flatnonzero(right > left)
    return Spans(
        row.take(filled).astype(np.int32),
        left.take(filled).astype(np.int32),
        right.take(filled).astype(np.int32),
        triangle.take(filled).astype(np.int32),
    )


def coverage(texels: NDArray[np.float64], width: int, height: int) -> NDArray[np.int32]:
    """(height, width) int32: by how many triangles each texel is covered. Row 0 is that of y 0..1."""
    stride = width + 1
    steps = np.zeros(height * stride, np.int32)
    for run in spans(texels, width, height):
        base = run.row.astype(np.int64) * stride
        np.add.at(steps, base + run.left, np.int32(1))
        np.subtract.at(steps, base + run.right, np.int32(1))
    np.cumsum(steps, out=steps)  # every run ends in its own row, so rows do not leak into each other
    return np.ascontiguousarray(steps.reshape(height, stride)[:, :width])


def owners(
    texels: NDArray[np.float64],
    labels: NDArray[np.int32],
    width: int,
    height: int,
    kind: type[np.signedinteger[Any]] = np.int32,
) -> NDArray[Any]:
    """(height, width) of `kind`: label of the island that covers each texel, -1 where none does, the lowest of several.

    labels: (m,) int32 of the triangles, below the largest number of `kind`; those with -1 are not drawn.
    """
    none = np.iinfo(kind).max
    grid = np.full(height * width, none, kind)
    for run in spans(texels, width, height):
        mine = labels.take(run.triangle).astype(kind)
        for begin, stop in batches(run.right - run.left, _ROWS_AT_ONCE):
            size = (run.right - run.left)[begin:stop].astype(np.int64)
            start = run.row[begin:stop].astype(np.int64) * width + run.left[begin:stop]
            offset = np.cumsum(size) - size
            place = np.arange(int(size.sum())) + np.repeat(start - offset, size)
            value = np.repeat(mine[begin:stop], size)
            drawn = value >= 0
            if not drawn.all():
                place, value = place[drawn], value[drawn]
            np.minimum.at(grid, place, value)
    grid[grid == none] = -1
    return grid.reshape(height, width)
