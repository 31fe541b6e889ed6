"""The steps of measuring at sizes from 1,000 to 4,000,000 triangles, beside NumPy's own sort of as many numbers.

Sorting is n log n by proof, on any machine; what it takes beyond that here is the memory of this machine (a gather from
a table larger than the cache costs many times one from within it). So a step grows no faster than n log n where its time
over the sort's does not grow. Memory that is given back is kept, as it is when a large mesh is measured.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator, Sequence
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
from tidegate.measure.held_memory import hold_memory

SIZES = ((10, 7), (10, 22), (100, 22), (1000, 22), (4132, 22))  # islands, and quads along each of their sides
YARDSTICK = "np.sort of n numbers"


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


def measured(sizes: Sequence[tuple[int, int]] = SIZES, turns: int = 2) -> tuple[list[int], dict[str, list[float]]]:
    """Triangles of each size, and for every step its seconds of the processor at each: the best of some turns."""
    hold_memory((1 << 31) - 1)  # or the largest size would pay for memory that it is the first to use
    counts: list[int] = []
    table: dict[str, list[float]] = {}
    for wanted, cells in sizes:
        best: dict[str, float] = {}
        count = 0
        for _ in range(turns if wanted >= 1000 else 5 * turns):
            count, spent = _once(wanted, cells)
            for name, seconds in spent.items():
                best[name] = min(best.get(name, np.inf), seconds)
        counts.append(count)
        for name, seconds in best.items():
            table.setdefault(name, []).append(seconds)
    return counts, table


def growth(counts: Sequence[int], seconds: Sequence[float], yardstick: Sequence[float]) -> tuple[float, float]:
    """How many times n log n a step has grown from its cheapest size to the largest, and how many times the sort has more."""
    work = np.array(counts) * np.log2(counts)
    own, sort = np.array(seconds) / work, np.array(yardstick) / work
    return float(own[-1] / own.min()), float((own / sort)[-1] / (own / sort).min())


def _once(wanted: int, cells: int) -> tuple[int, dict[str, float]]:
    points, triangles, uv = layout(wanted, cells)
    numbers = np.random.default_rng(wanted).integers(0, 1 << 62, len(triangles))
    spent: dict[str, float] = {}

    def step(name: str, work: Callable[[], Any]) -> Any:
        begin = time.process_time()
        found = work()
        spent[name] = time.process_time() - begin
        return found

    step(YARDSTICK, lambda: np.sort(numbers))
    for _ in _steps(step, points, triangles, uv):
        pass
    return len(triangles), spent


def _steps(
    step: Callable[[str, Callable[[], Any]], Any],
    points: NDArray[np.float64],
    triangles: NDArray[np.int32],
    uv: NDArray[np.float64],
) -> Iterator[None]:
    ids, id_count = step("weld positions", lambda: weld.point_ids(points))
    welded, _ = step("weld corners", lambda: weld.corner_ids(points, triangles, uv, triangles, ids))
    mates = step("edge mates", lambda: edges.edge_mates(welded))
    label, total = step("label islands", lambda: islands.label_islands(welded, mates))
    tile = step("gather UVs", lambda: corners.corner_columns(uv, triangles))
    world = step("gather positions", lambda: corners.corner_columns(points, triangles))
    signed = step("UV areas", lambda: areas.uv_areas(tile))
    surface = step("surface areas", lambda: areas.surface_areas(world))
    flat = step("flat in tile", lambda: areas.flat_in_tile(tile, signed))
    step("winding", lambda: winding.island_winding(signed, flat, label, total))
    larger, smaller = step("singular values", lambda: stretch.singular_values(tile, world, 2048, 2048))
    texel_areas = np.abs(signed) * 2048**2
    step("island stretch", lambda: stretch.island_stretch(larger, smaller, texel_areas, surface, label, total))
    density = texel_density.texel_density(np.abs(signed), surface, 2048, 2048)
    step("density spread", lambda: texel_density.density_spread(density, surface, label, total))
    step("upright", lambda: upright.island_upright(tile, world, label, total))
    boxes = step("boxes", lambda: areas.island_boxes(tile, label, total))
    yield
    texels = raster.texel_columns(tile, 2048, 2048)
    step("twins", lambda: stacks.identical_islands(tile, label, total))
    step("overlap at 2048", lambda: overlap.measure_overlap(texels, label, total, 2048, 2048))
    sides = step("borders", lambda: borders.border_sides(mates, label))
    outline = step("outlines", lambda: outlines.outlines(tile, welded, sides, label, total))
    uv_area = areas.island_sums(np.abs(signed), label, total)
    step("exact stacks", lambda: stacks.exact_stacks(outline, boxes, uv_area, 2e-5))
    start, end, whose = step(
        "straight stretches", lambda: straightness.straight_stretches(texels, welded, sides, label)
    )
    step("gaps at 2048", lambda: spacing.island_gaps(start, end, whose, total, 64.0))
    yield
    places = ids[triangles]
    around = step("edge mates of positions", lambda: topology.topology_mates(places))
    step("edge faults", lambda: topology.edge_faults(places, around))
    step("split fans", lambda: topology.split_fans(places, around))
    step("repeated triangles", lambda: topology.repeated_triangles(places, around))
    step("loose pieces", lambda: topology.pieces(places, id_count))
    step("thinness", lambda: slivers.thinness(world))
    step("bends", lambda: quads.dihedral_degrees(world, around))
    yield
