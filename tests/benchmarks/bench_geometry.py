"""Speed of the geometry steps, beside peers, as ratios in one run.

    python -m tests.benchmarks.bench_geometry            everything
    python -m tests.benchmarks.bench_geometry growth     one part: labels, stretch, overlap or growth

Every figure is the best of several turns; peer and step take turns, so a busy machine slows both.
"""

from __future__ import annotations

import sys
import time
from collections.abc import Callable
from typing import Any

import numpy as np

from tests.benchmarks import growth as steps
from tests.benchmarks.growth import layout
from tidegate.geometry import corners, islands, overlap, raster, stretch, weld


def best(turns: int, *steps: Callable[[], Any]) -> list[float]:
    """Best milliseconds of each step, the steps taking turns."""
    times = [float("inf")] * len(steps)
    for _ in range(turns):
        for k, step in enumerate(steps):
            begin = time.perf_counter()
            step()
            times[k] = min(times[k], (time.perf_counter() - begin) * 1e3)
    return times


def row(what: str, ours: float, peer: float, wanted: float) -> None:
    print(f"{what:58s} {ours:9.1f} ms {peer:9.1f} ms {peer / ours:7.1f} x   wanted {wanted:g} x")


def labels() -> None:
    """Labelling of 1,000,000 triangles in 1,000 islands, welding counted on neither side."""
    import trimesh

    points, triangles, uv = layout(1000, 22)
    welded, _ = weld.corner_ids(points, triangles, uv, triangles)

    def peer() -> Any:
        # A new mesh each turn, over welded vertices: trimesh remembers what it has once computed.
        mesh = trimesh.Trimesh(points, triangles, process=False, validate=False)
        return trimesh.graph.connected_component_labels(mesh.face_adjacency, node_count=len(triangles))

    assert len(np.unique(peer())) == islands.label_islands(welded)[1] == 1000
    ours, theirs = best(5, lambda: islands.label_islands(welded), peer)
    row("label islands, 968,000 triangles / trimesh face adjacency", ours, theirs, 5)


def singular_values() -> None:
    """Singular values of 1,000,000 Jacobians; building the Jacobians counts on our side alone."""
    points, triangles, uv = layout(1000, 22)
    tile, world = corners.corner_columns(uv, triangles), corners.corner_columns(points, triangles)
    sides = np.stack([world[1] - world[0], world[2] - world[0]], axis=-1).transpose(1, 0, 2)
    spread = np.stack([tile[1] - tile[0], tile[2] - tile[0]], axis=-1).transpose(1, 0, 2)
    jacobians = sides @ np.linalg.inv(spread * 2048.0)
    larger, smaller = stretch.singular_values(tile, world, 2048, 2048)
    values = np.linalg.svd(jacobians, compute_uv=False)
    np.testing.assert_allclose(np.stack([larger, smaller], axis=1), values, rtol=1e-9)
    ours, theirs = best(
        5,
        lambda: stretch.singular_values(tile, world, 2048, 2048),
        lambda: np.linalg.svd(jacobians, compute_uv=False),
    )
    row("singular values, 968,000 triangles / np.linalg.svd", ours, theirs, 8)


def overlaps() -> None:
    """Overlap of 100,000 triangles at 2048 against shapely's exact answer: pairs from its tree, area by intersection."""
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

    exact = peer()
    found = overlap.measure_overlap(texels, label, 100, 2048, 2048)
    print(f"  shared area: {found.between / 2048**2:.6f} by texels, {exact:.6f} exact")
    ours, theirs = best(3, lambda: overlap.measure_overlap(texels, label, 100, 2048, 2048), peer)
    row("overlap, 96,800 triangles at 2048 / shapely exact", ours, theirs, 20)


def growth() -> None:
    """Every step from 1,000 to 4,000,000 triangles, in nanoseconds per triangle, and its growth over n log n and over a sort."""
    counts, table = steps.measured()
    print(f"{'nanoseconds per triangle':28s}" + "".join(f"{count:>11,}" for count in counts) + "   n log n  the sort's")
    for name, seconds in table.items():
        each = [spent / count * 1e9 for spent, count in zip(seconds, counts, strict=True)]
        grown, beyond = steps.growth(counts, seconds, table[steps.YARDSTICK])
        print(f"{name:28s}" + "".join(f"{value:11.1f}" for value in each) + f"{grown:10.2f}{beyond:12.2f}")


PARTS = {"labels": labels, "stretch": singular_values, "overlap": overlaps, "growth": growth}


def main(asked: list[str]) -> int:
    for name in asked or list(PARTS):
        if name not in PARTS:
            print(f"no part {name}; there are {', '.join(PARTS)}", file=sys.stderr)
            return 2
        PARTS[name]()
    return 0


if __name__ == "__main__":
    raise SystemExit(main(sys.argv[1:]))
