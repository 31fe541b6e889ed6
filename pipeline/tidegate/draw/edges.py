"""Which lines of a layout are drawn: outlines of islands, the edges between their faces, and no diagonal of a quad."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from tidegate.draw.placed import Placed
from tidegate.geometry.corners import corner_columns
from tidegate.geometry.edges import edge_faces, edge_mates
from tidegate.geometry.quads import likely_diagonals, polygon_diagonals
from tidegate.geometry.weld import point_ids


class Edges(NamedTuple):
    """Segments (4, s) x0, y0, x1, y1 in pixels. outline: borders of islands; inner: edges between faces, each once.
    owner: (s,) island row of each outline segment. seam: (s,) whether the surface goes on across it; False where the
    surface itself ends."""

    outline: NDArray[np.float64]
    inner: NDArray[np.float64]
    owner: NDArray[np.int32]
    seam: NDArray[np.bool_]


def edges_of(placed: Placed, *, inner: bool = True) -> Edges:
    """Lines of the layout. inner: whether edges inside the islands are wanted at all."""
    mates = edge_mates(placed.corners)
    faces = edge_faces(mates)
    sides = np.flatnonzero(faces == 1)
    outline = _segments(placed.pixels, sides)
    owner = placed.row[sides // 3]
    seam = _seams(placed, sides)
    if not inner:
        return Edges(outline, np.zeros((4, 0)), owner, seam)
    hidden = np.zeros(len(mates), np.bool_)
    start = 0
    for layout, here in placed.pieces:
        piece = slice(3 * start, 3 * (start + len(here)))
        own = mates[piece] - 3 * start  # parts share no corner ids, so mates stay inside the piece
        own[mates[piece] < 0] = -1
        if layout.mesh.polygon is not None:
            hidden[piece] = polygon_diagonals(layout.mesh.polygon[here], own)
        else:
            xyz = corner_columns(layout.mesh.positions, layout.mesh.triangles[here])
            hidden[piece] = likely_diagonals(xyz, own)
        start += len(here)
    first = mates == np.arange(len(mates), dtype=np.int32)
    drawn = np.flatnonzero((faces > 1) & first & ~hidden)
    return Edges(outline, _segments(placed.pixels, drawn), owner, seam)


def _seams(placed: Placed, sides: NDArray[np.int64]) -> NDArray[np.bool_]:
    """Which border sides have a second border side at the same place of the surface. Only the ends of borders are
    welded, which are few; parts count as one surface. Places a millionth of the model apart are one, so that ends which
    differ in the last bits do not look open."""
    starts = np.cumsum([0, *(len(layout.mesh.positions) for layout, _ in placed.pieces)])
    points = np.concatenate([layout.mesh.positions for layout, _ in placed.pieces] or [np.zeros((0, 3))])
    rows = np.concatenate(
        [layout.mesh.triangles[here] + start for (layout, here), start in zip(placed.pieces, starts, strict=False)]
        or [np.zeros((0, 3), np.int64)]
    )
    triangle, corner = sides // 3, sides % 3
    ends = points[np.concatenate([rows[triangle, corner], rows[triangle, (corner + 1) % 3]])]
    extent = float(np.ptp(ends, axis=0).max()) if len(ends) else 0.0
    ids, _ = point_ids(np.round(ends / (extent * 1e-6)) if extent > 0.0 else ends)
    one, other = ids[: len(sides)].astype(np.int64), ids[len(sides) :].astype(np.int64)
    edge = np.minimum(one, other) << 32 | np.maximum(one, other)
    _, which, times = np.unique(edge, return_inverse=True, return_counts=True)
    shared: NDArray[np.bool_] = times[which] > 1
    return shared


def _segments(pixels: NDArray[np.float64], sides: NDArray[np.int64]) -> NDArray[np.float64]:
    """Sides 3 t + s of triangles as x0, y0, x1, y1 (4, s), by reaching into the columns once a coordinate."""
    count = pixels.shape[2]
    flat = np.ascontiguousarray(pixels).reshape(-1)
    triangle, corner = np.divmod(sides, 3)
    start = corner * (2 * count) + triangle
    end = (corner + 1) % 3 * (2 * count) + triangle
    return np.stack([flat.take(start), flat.take(start + count), flat.take(end), flat.take(end + count)])
