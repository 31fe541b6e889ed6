"""Triangles of one picture in texels: what overlap, spacing and painting are measured from."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from tidegate.measure.islands import LaidOut
from tidegate.model.facts import IslandColumns, Picture


class Placed(NamedTuple):
    """texels: (3, 2, m) corner columns, x to the right and y DOWN from the upper left of the picture, as pixels lie.
    uv: (3, 2, m) the same corners in 0..1 of the tile, V up. local: (m,) index into rows of each triangle's island.
    corners: (m, 3) welded ids, apart for every part. rows: island rows of the picture."""

    texels: NDArray[np.float64]
    uv: NDArray[np.float64]
    local: NDArray[np.int32]
    corners: NDArray[np.int32]
    rows: NDArray[np.int64]


def place(columns: IslandColumns, picture: Picture, layouts: Sequence[LaidOut], width: int, height: int) -> Placed:
    """The picture's triangles at a size of width x height texels, every island moved by whole tiles onto the picture.

    An island that crosses a border is moved by the tile it starts in; what sticks out lies outside the picture.
    """
    to_local = np.full(len(columns) + 1, -1, dtype=np.int32)  # island row -1 (no UVs) reads the last entry
    to_local[picture.islands] = np.arange(len(picture.islands), dtype=np.int32)
    uvs, locals_, corners = [], [], []
    offset = 0
    for layout in layouts:
        if layout.layer != picture.uv_layer or layout.part not in picture.parts:
            continue
        local = to_local[layout.island]
        here = local >= 0
        rows = layout.island[here]
        # Subtracting a whole number is exact for the coordinates of the first tiles and the same for equal corners.
        uvs.append(layout.uv[:, :, here] - columns.corner[rows].T[None].astype(np.float64))
        locals_.append(local[here])
        corners.append(layout.corners[here] + offset)
        offset += int(layout.corners.max(initial=-1)) + 1
    uv = np.concatenate(uvs, axis=2) if uvs else np.zeros((3, 2, 0))
    texels = np.empty_like(uv)
    texels[:, 0] = uv[:, 0] * width
    texels[:, 1] = (1.0 - uv[:, 1]) * height
    return Placed(
        texels,
        uv,
        np.concatenate(locals_) if locals_ else np.zeros(0, np.int32),
        np.concatenate(corners) if corners else np.zeros((0, 3), np.int32),
        picture.islands,
    )
