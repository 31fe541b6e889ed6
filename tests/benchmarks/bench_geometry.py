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
from numpy.typing import NDArray

from tidegate.geometry import (
    areas,
    borders,
    corners,
    edges,
    islands,
    outlines,
    overlap,
    quads,
    raster,
    slivers,
    spacing,
    stacks,
    straightness,
    stretch,
    texel_density,
    topology,
    upright,
    weld,
    winding,
)


def layout(islands_wanted: int, cells: int) -> tuple[NDArray[np.float64], NDArray[np.int32], NDArray[np.float64]]:
    """Positions, triangles and UVs of wavy square sheets of cells x cells quads, side by side in the tile."""
    across = int(np.ceil(np.sqrt(islands_wanted)))
    i, j = np.meshgrid(np.arange(cells + 1.0), np.arange(cells + 1.0), indexing="ij")
    spot = np.stack([i.ravel(), j.ravel()], axis=1) / cells
    start = (np.arange(cells)[:, None] * (cells + 1) + np.arange(cells)).ravel()
    first = np.stack([start, start + cells + 1, start + cells + 2], axis=1)
    second = np.stack([start, start + cells + 2, start + 1], axis=1)
    face = np.stack([first, second], axis=1).reshape(-1, 3)
    number = np.arange(islands_wanted)
    corner = np.stack([number // across, number % across], axis=1)
    uv = (spot[None] * 0.9 + 0.05 + corner[:, None]) / across
    points = np.concatenate([uv, 0.02 * np.sin(9.0 * uv[..., :1])], axis=2).reshape(-1, 3)
    triangles = (face[None] + (len(spot) * number)[:, None, None]).reshape(-1, 3).astype(np.int32)
    return points, triangles, uv.reshape(-1, 2)


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
    """Every step from 1,000 to 4,000,000 triangles, in nanoseconds per triangle: flat is linear."""
    table: dict[str, list[float]] = {}
    sizes = [(1, 22), (10, 22), (100, 22), (1000, 22), (4132, 22)]
    counts = []
    for wanted, cells in sizes:
        points, triangles, uv = layout(wanted, cells)
        count = len(triangles)
        counts.append(count)
        turns = 3 if count < 200_000 else 1
        kept: dict[str, Any] = {}

        def step(name: str, work: Callable[[], Any], count: int = count, turns: int = turns, kept: Any = kept) -> Any:
            spent = float("inf")
            for _ in range(turns):
                begin = time.perf_counter()
                kept[name] = work()
                spent = min(spent, time.perf_counter() - begin)
            table.setdefault(name, []).append(spent / count * 1e9)
            return kept[name]

        ids, id_count = step("weld positions", lambda p=points: weld.point_ids(p))
        welded, _ = step("weld corners", lambda p=points, t=triangles, u=uv: weld.corner_ids(p, t, u, t))
        mates = step("edge mates", lambda w=welded: edges.edge_mates(w))
        label, total = step("label islands", lambda w=welded, m=mates: islands.label_islands(w, m))
        tile = step("gather UVs", lambda u=uv, t=triangles: corners.corner_columns(u, t))
        world = step("gather positions", lambda p=points, t=triangles: corners.corner_columns(p, t))
        signed = step("UV areas", lambda t=tile: areas.uv_areas(t))
        surface = step("surface areas", lambda w=world: areas.surface_areas(w))
        flat = step("flat in tile", lambda t=tile, s=signed: areas.flat_in_tile(t, s))
        step("winding", lambda s=signed, f=flat, a=label, n=total: winding.island_winding(s, f, a, n))
        larger, smaller = step("singular values", lambda t=tile, w=world: stretch.singular_values(t, w, 2048, 2048))
        step(
            "island stretch",
            lambda g=larger, s=smaller, a=signed, f=surface, b=label, n=total: stretch.island_stretch(
                g, s, np.abs(a) * 2048**2, f, b, n
            ),
        )
        density = texel_density.texel_density(np.abs(signed), surface, 2048, 2048)
        step("density spread", lambda d=density, f=surface, a=label, n=total: texel_density.density_spread(d, f, a, n))
        step("upright", lambda t=tile, w=world, a=label, n=total: upright.island_upright(t, w, a, n))
        boxes = step("boxes", lambda t=tile, a=label, n=total: areas.island_boxes(t, a, n))
        texels = raster.texel_columns(tile, 2048, 2048)
        step("overlap at 2048", lambda t=texels, a=label, n=total: overlap.measure_overlap(t, a, n, 2048, 2048))
        sides = step("borders", lambda m=mates, a=label: borders.border_sides(m, a))
        outline = step("outlines", lambda t=tile, w=welded, s=sides, a=label, n=total: outlines.outlines(t, w, s, a, n))
        uv_area = areas.island_sums(np.abs(signed), label, total)
        step("exact stacks", lambda o=outline, b=boxes, a=uv_area: stacks.exact_stacks(o, b, a, 2e-5))
        start, end, whose = step(
            "straight stretches",
            lambda t=texels, w=welded, s=sides, a=label: straightness.straight_stretches(t, w, s, a),
        )
        step("gaps at 2048", lambda s=start, e=end, i=whose, n=total: spacing.island_gaps(s, e, i, n, 64.0))
        places = ids[triangles]
        around = step("edge mates of positions", lambda p=places: topology.topology_mates(p))
        step("edge faults", lambda p=places, m=around: topology.edge_faults(p, m))
        step("split fans", lambda p=places, m=around: topology.split_fans(p, m))
        step("repeated triangles", lambda p=places, m=around: topology.repeated_triangles(p, m))
        step("loose pieces", lambda p=places, n=id_count: topology.pieces(p, n))
        step("thinness", lambda w=world: slivers.thinness(w))
        step("bends", lambda w=world, m=around: quads.dihedral_degrees(w, m))
        del kept, tile, world, texels
    print(f"{'nanoseconds per triangle':28s}" + "".join(f"{count:>12,}" for count in counts))
    for name, values in table.items():
        print(f"{name:28s}" + "".join(f"{value:12.1f}" for value in values))
    print(f"{'all':28s}" + "".join(f"{sum(v[k] for v in table.values()):12.1f}" for k in range(len(counts))))


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
