"""Seam edges of a picture: edges of the surface that lie in the tile twice, with both places."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from tidegate.geometry.edges import edge_mates
from tidegate.geometry.weld import point_ids
from tidegate.measure.islands import LaidOut
from tidegate.model.facts import IslandColumns, Picture
from tidegate.model.mesh import MeshPart
from tidegate.pixels.seams import SeamEdges

SHARPEST = (
    0.766  # cosine of 40 degrees: across a sharper edge the surface is not looked along; common practice, no source
)


def seam_edges(
    columns: IslandColumns,
    picture: Picture,
    layouts: Sequence[LaidOut],
    parts: Sequence[MeshPart],
    rows: NDArray[np.int64],
) -> SeamEdges:
    """Seams within each part between triangles that meet at less than 40 degrees; sharper edges break the picture anyway.

    rows: island rows of the picture; the islands of the result are indices into it. Edges of three triangles or
    more are left out.
    """
    local = np.full(len(columns) + 1, -1, dtype=np.int32)
    local[rows] = np.arange(len(rows), dtype=np.int32)
    found = [
        _of_layout(columns, layout, parts[layout.part], local)
        for layout in layouts
        if layout.layer == picture.uv_layer and layout.part in picture.parts
    ]
    joined = [np.concatenate(column) for column in zip(*found, strict=True)]
    return SeamEdges(*joined)


def _of_layout(
    columns: IslandColumns, layout: LaidOut, part: MeshPart, local: NDArray[np.int32]
) -> tuple[NDArray[np.float64], ...]:
    points = point_ids(part.positions)[0][part.triangles].astype(np.int32)
    surface = edge_mates(points)
    side = np.flatnonzero(surface >= 0)
    order = side[np.argsort(surface[side], kind="stable")]
    edge = surface[order]
    starts = np.flatnonzero(np.append(True, edge[1:] != edge[:-1])) if len(edge) else np.zeros(0, np.int64)
    pairs = starts[np.diff(np.append(starts, len(edge))) == 2]
    one, other = order[pairs], order[pairs + 1]
    island = local[layout.island]
    seam = (layout.mates[one] != layout.mates[other]) & (island[one // 3] >= 0) & (island[other // 3] >= 0)
    one, other = one[seam], other[seam]
    normal = _face_normals(part)
    smooth = (normal[one // 3] * normal[other // 3]).sum(axis=1) >= SHARPEST
    one, other = one[smooth], other[smooth]
    uv = layout.uv
    if columns.corner.any():
        uv = uv - columns.corner[layout.island].T[None].astype(np.float64)
    a, b = _ends(uv, one), _ends(uv, other)
    # Both sides list their ends in one order on the surface.
    turned = points[one // 3, one % 3] != points[other // 3, other % 3]
    b = np.where(turned[:, None, None], b[:, ::-1], b)
    inner_a, inner_b = (uv[(s % 3 + 2) % 3, :, s // 3] for s in (one, other))
    return a, b, inner_a, inner_b, island[one // 3], island[other // 3]


def _ends(uv: NDArray[np.float64], side: NDArray[np.int64]) -> NDArray[np.float64]:
    return np.stack([uv[side % 3, :, side // 3], uv[(side % 3 + 1) % 3, :, side // 3]], axis=1)


def _face_normals(part: MeshPart) -> NDArray[np.float64]:
    first, second, third = (part.positions[part.triangles[:, corner]] for corner in range(3))
    cross = np.cross(second - first, third - first)
    length = np.linalg.norm(cross, axis=1, keepdims=True)
    return np.asarray(np.divide(cross, length, out=np.zeros_like(cross), where=length > 0))
