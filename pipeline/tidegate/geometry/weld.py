"""Corners made one where position and UV agree bit for bit.

An export splits a vertex wherever a normal, a UV or a material changes, so vertex numbers say nothing about what is
joined. Ids from here depend on values only: splitting vertices again, or merging them, changes no comparison.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from .matching import ids_of, representatives


def point_ids(points: NDArray[np.float64]) -> tuple[NDArray[np.int32], int]:
    """Ids 0.. of the points (n, d) float64, equal where all coordinates are equal bit for bit, and how many there are.

    -0.0 is 0.0. NaN equals NaN only of the same bits. Ids follow the order of first appearance where hashes allow
    it; only their equality means anything.
    """
    folded = np.asarray(points, np.float64) + 0.0  # -0.0 + 0.0 is 0.0
    columns = [np.ascontiguousarray(folded[:, axis]).view(np.uint64) for axis in range(folded.shape[1])]
    return ids_of(representatives(columns))


def corner_ids(
    positions: NDArray[np.float64],
    triangles: NDArray[np.int32],
    uv: NDArray[np.float64],
    uv_triangles: NDArray[np.int32],
    position_ids: NDArray[np.int32] | None = None,
) -> tuple[NDArray[np.int32], int]:
    """Ids (m, 3) int32 of the corners, equal where position and UV both agree, and how many there are.

    positions (n, 3), triangles (m, 3) into them; uv (k, 2), uv_triangles (m, 3) into them, a row of -1 where a
    triangle has no UVs: its ids are -1 too. position_ids: what `point_ids(positions)` gave, when it is at hand.
    """
    places = position_ids if position_ids is not None else point_ids(positions)[0]
    spots, spot_count = point_ids(uv)
    if len(spots) == len(places) and np.array_equal(triangles, uv_triangles):
        # One index array for both, as in glTF: weld the vertices, which are far fewer than the corners.
        ids, count = _pair_ids(places, spots, spot_count)
        welded: NDArray[np.int32] = ids[triangles]
        return welded, count
    without = uv_triangles[:, 0] < 0
    if not without.any():
        ids, count = _pair_ids(places[triangles].ravel(), spots[uv_triangles].ravel(), spot_count)
        return ids.reshape(-1, 3), count
    welded = np.full(triangles.shape, -1, np.int32)
    ids, count = _pair_ids(places[triangles[~without]].ravel(), spots[uv_triangles[~without]].ravel(), spot_count)
    welded[~without] = ids.reshape(-1, 3)
    return welded, count


def _pair_ids(places: NDArray[np.int32], spots: NDArray[np.int32], spot_count: int) -> tuple[NDArray[np.int32], int]:
    # Exact: places < 2**31 and spot_count < 2**31, so no two pairs share a key.
    key = places.astype(np.uint64) * np.uint64(max(spot_count, 1)) + spots.astype(np.uint64)
    return ids_of(representatives([key]))
