"""Steps of geometry beside the peer that answers the same question: what is timed, by whoever times it."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, NamedTuple

import numpy as np

from tests.benchmarks.growth import layout
from tidegate.geometry import corners, islands, overlap, raster, stretch, weld


class Pair(NamedTuple):
    """ours, peer: the two pieces of work, their inputs made beforehand. wanted: how many times faster ours is to be."""

    ours: Callable[[], Any]
    peer: Callable[[], Any]
    wanted: float


def labels() -> Pair:
    """Labelling of 968,000 triangles in 1,000 islands beside trimesh's face adjacency; welding counts on neither side."""
    import trimesh

    points, triangles, uv = layout(1000, 22)
    welded, _ = weld.corner_ids(points, triangles, uv, triangles)

    def peer() -> Any:
        # A new mesh each turn, over welded vertices: trimesh remembers what it has once computed.
        mesh = trimesh.Trimesh(points, triangles, process=False, validate=False)
        return trimesh.graph.connected_component_labels(mesh.face_adjacency, node_count=len(triangles))

    return Pair(lambda: islands.label_islands(welded), peer, 5)


def singular_values() -> Pair:
    """Singular values of 968,000 Jacobians beside np.linalg.svd; building the Jacobians counts on our side alone."""
    points, triangles, uv = layout(1000, 22)
    tile, world = corners.corner_columns(uv, triangles), corners.corner_columns(points, triangles)
    sides = np.stack([world[1] - world[0], world[2] - world[0]], axis=-1).transpose(1, 0, 2)
    spread = np.stack([tile[1] - tile[0], tile[2] - tile[0]], axis=-1).transpose(1, 0, 2)
    jacobians = sides @ np.linalg.inv(spread * 2048.0)
    return Pair(
        lambda: stretch.singular_values(tile, world, 2048, 2048),
        lambda: np.linalg.svd(jacobians, compute_uv=False),
        8,
    )


def overlaps() -> Pair:
    """Overlap of 96,800 triangles at 2048 beside shapely's exact answer: pairs from its tree, area by intersection."""
    import shapely

    _, triangles, uv = layout(100, 22)
    uv = uv.copy()
    uv[: len(uv) // 10] += 0.02  # a tenth of the islands lies on its neighbours
    tile = corners.corner_columns(uv, triangles)
    label = np.repeat(np.arange(100, dtype=np.int32), 968)
    texels = raster.texel_columns(tile, 2048, 2048)

    def peer() -> Any:
        rings = tile.transpose(2, 0, 1)
        polygons = shapely.polygons(np.concatenate([rings, rings[:, :1]], axis=1))
        one, other = shapely.STRtree(polygons).query(polygons, predicate="overlaps")
        apart = (one < other) & (label[one] != label[other])
        return shapely.area(shapely.intersection(polygons[one[apart]], polygons[other[apart]])).sum()

    return Pair(lambda: overlap.measure_overlap(texels, label, 100, 2048, 2048), peer, 20)
