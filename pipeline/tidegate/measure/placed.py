"""Triangles of one picture in texels: what overlap, spacing and painting are measured from."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from tidegate.geometry.borders import border_sides
from tidegate.geometry.edges import edge_mates
from tidegate.geometry.side_by_side import moved_by_tiles, side_by_side
from tidegate.measure.islands import LaidOut
from tidegate.model.facts import IslandColumns, Picture


@dataclass(frozen=True, eq=False)
class Placed:
    """texels: (3, 2, m) corner columns, x to the right and y DOWN from the upper left of the picture, as pixels lie.
    uv: (3, 2, m) the same corners in 0..1 of the tile, V up. local: (m,) index into rows of each triangle's island.
    corners: (m, 3) welded ids, apart for every part; mates: their `edges.edge_mates`. rows: island rows of the picture."""

    texels: NDArray[np.float64]
    uv: NDArray[np.float64]
    local: NDArray[np.int32]
    corners: NDArray[np.int32]
    mates: NDArray[np.int32]
    rows: NDArray[np.int64]
    whole: LaidOut | None
    """The layout whose triangles these are, where they are all it has and of nothing else."""

    @cached_property
    def borders(self) -> NDArray[np.int64]:
        """`borders.border_sides` of the islands."""
        return border_sides(self.mates, self.local) if self.whole is None else self.whole.borders


def place(columns: IslandColumns, picture: Picture, layouts: Sequence[LaidOut], width: int, height: int) -> Placed:
    """The picture's triangles at a size of width x height texels, every island moved by whole tiles onto the picture.

    An island that crosses a border is moved by the tile its middle lies in; what sticks out lies outside the picture.
    """
    to_local = np.full(len(columns) + 1, -1, dtype=np.int32)  # island row -1 (no UVs) reads the last entry
    to_local[picture.islands] = np.arange(len(picture.islands), dtype=np.int32)
    members = [one for one in layouts if one.layer == picture.uv_layer and one.part in picture.parts]
    pieces = [_piece(columns, layout, to_local) for layout in members]
    whole: LaidOut | None = None
    if len(pieces) == 1:
        uv, local, corners, all_of_it = pieces[0]
        whole = members[0] if all_of_it else None
        mates = edge_mates(corners) if whole is None else whole.mates
    else:
        uv = np.concatenate([piece[0] for piece in pieces], axis=2)
        local = np.concatenate([piece[1] for piece in pieces])
        corners = side_by_side([piece[2] for piece in pieces])
        mates = edge_mates(corners)
    texels = np.empty_like(uv)
    np.multiply(uv[:, 0], width, out=texels[:, 0])
    np.subtract(1.0, uv[:, 1], out=texels[:, 1])
    texels[:, 1] *= height
    return Placed(texels, uv, local, corners, mates, picture.islands, whole)


def _piece(
    columns: IslandColumns, layout: LaidOut, to_local: NDArray[np.int32]
) -> tuple[NDArray[np.float64], NDArray[np.int32], NDArray[np.int32], bool]:
    """uv, local islands and corners of the layout's triangles on the picture, and whether those are all it has."""
    local = to_local[layout.island]
    whole = bool(local.min(initial=0) >= 0)
    uv, corners, rows = layout.uv, layout.corners, layout.island
    if not whole:
        here = np.flatnonzero(local >= 0)
        uv, corners, rows, local = uv[:, :, here], corners[here], rows[here], local[here]
    if columns.corner.any():
        uv = moved_by_tiles(uv, columns.corner[rows])
    return uv, local, corners, whole
