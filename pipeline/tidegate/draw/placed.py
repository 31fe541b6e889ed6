"""The triangles of one picture in the pixels of a view."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from tidegate.geometry.side_by_side import moved_by_tiles, side_by_side
from tidegate.model.facts import Facts, Layout, Picture
from tidegate.model.view import View


class Placed(NamedTuple):
    """pixels: (3, 2, m) corner columns, y down. row: (m,) island row of each triangle. corners: (m, 3) welded ids, apart
    for every part. pieces: the layouts it comes from, with which of their triangles are here, in the same order."""

    pixels: NDArray[np.float64]
    row: NDArray[np.int32]
    corners: NDArray[np.int32]
    pieces: tuple[tuple[Layout, NDArray[np.int64]], ...]


def place(facts: Facts, picture: Picture, view: View, rows: NDArray[np.int64] | None = None) -> Placed:
    """Where every triangle of the picture lies in the view. rows: islands that are wanted, all of the picture's without."""
    columns = facts.islands
    assert columns is not None
    wanted = np.zeros(len(columns) + 1, np.bool_)  # row -1 (no UVs) reads the last entry
    wanted[picture.islands if rows is None else rows] = True
    pixels, row, corners, pieces = [], [], [], []
    across, up = view.scale
    for layout in facts.layouts:
        if layout.uv_layer != picture.uv_layer or layout.part not in picture.parts:
            continue
        here = np.flatnonzero(wanted[layout.island])
        island = layout.island[here]
        uv = moved_by_tiles(layout.uv[:, :, here], columns.corner[island] if view.folded else np.array(view.tile))
        placed = np.empty_like(uv)
        placed[:, 0] = (uv[:, 0] - view.uv[0]) * across
        placed[:, 1] = (view.uv[3] - uv[:, 1]) * up
        pixels.append(placed)
        row.append(island)
        corners.append(layout.corners[here])
        pieces.append((layout, here))
    if not pixels:
        return Placed(np.zeros((3, 2, 0)), np.zeros(0, np.int32), np.zeros((0, 3), np.int32), ())
    return Placed(np.concatenate(pixels, axis=2), np.concatenate(row), side_by_side(corners), tuple(pieces))
