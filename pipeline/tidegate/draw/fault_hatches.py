"""The hatches of marks on the islands and triangles they name."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from tidegate.draw.canvas import Canvas, fill, window
from tidegate.draw.hatch import hatch
from tidegate.draw.marks import Mark
from tidegate.draw.palette import PAPER
from tidegate.draw.placed import Placed
from tidegate.geometry.raster import coverage

MOST_HATCHES = 2  # findings whose hatches are drawn over one another on an island
FEW = 12  # islands up to which each is hatched by itself


def draw_hatches(canvas: Canvas, placed: Placed, marks: Sequence[Mark], size: int) -> None:
    """The hatch of every mark on the islands it names, of the first marks only where many lie on one island; texels
    that are shared are filled, for findings about sharing."""
    by_row = np.argsort(placed.row, kind="stable")
    ordered = placed.row[by_row]
    hatched: dict[int, int] = {}
    jobs = []
    for mark in sorted(marks, key=lambda mark: mark.whole):
        most = 1 if mark.whole else MOST_HATCHES
        named = [int(row) for row in mark.rows if hatched.get(int(row), 0) < most]
        for row in named:
            hatched[row] = hatched.get(row, 0) + 1
        jobs.append((mark, np.array(named, dtype=np.int64)))
    for mark, rows in reversed(jobs):
        faces = mark.faces_in(placed) if mark.faces else None
        # A few islands far apart are cheaper one by one than all of the picture between them.
        for some in np.split(rows, len(rows)) if 0 < len(rows) <= FEW else [rows]:
            own = _triangles_of(by_row, ordered, some)
            own = own[faces[own]] if faces is not None else own
            _hatch_rows(canvas, placed.pixels[:, :, own], mark, size, shared=False)
    for mark in marks:
        if mark.finding.shown.shared:
            own = _triangles_of(by_row, ordered, mark.rows)
            _hatch_rows(canvas, placed.pixels[:, :, own], mark, size, shared=True)


def _triangles_of(by_row: NDArray[np.int64], ordered: NDArray[np.int32], rows: NDArray[np.int64]) -> NDArray[np.int64]:
    """Triangles of some islands. by_row: all triangles in order of their islands, ordered: those islands."""
    first, end = np.searchsorted(ordered, rows, "left"), np.searchsorted(ordered, rows, "right")
    return np.concatenate([by_row[a:b] for a, b in zip(first, end, strict=True)] or [np.zeros(0, np.int64)])


def _hatch_rows(canvas: Canvas, pixels: NDArray[np.float64], mark: Mark, size: int, *, shared: bool) -> None:
    """The hatch over these triangles; over texels covered twice, reversed and dense, where only `shared` ones are meant."""
    step, thick = max(6, round(size / 85)), max(1, round(size / 512))
    height, width = canvas.shape[:2]
    rows, columns = window(pixels.transpose(1, 0, 2).reshape(2, -1), 1, width, height)
    part = canvas[rows, columns]
    if not part.size:
        return
    moved = pixels - np.array([columns.start, rows.start], float)[None, :, None]
    count = coverage(moved, part.shape[1], part.shape[0])
    lines = hatch(mark.hatch, part.shape[1], part.shape[0], step, thick, (columns.start, rows.start))
    if shared:
        fill(part, (count > 1) & ~lines, mark.color)
        fill(part, (count > 1) & lines, PAPER)
    else:
        fill(part, (count > 0) & lines, mark.color)
