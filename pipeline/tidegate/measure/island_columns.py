"""Columns of the islands of one UV layer of one part: areas, boxes, winding, density, stretch and markers."""

from __future__ import annotations

from functools import partial
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from tidegate.geometry.areas import flat_in_tile, island_boxes, island_centres, island_sums, uv_areas
from tidegate.geometry.corners import corner_columns
from tidegate.geometry.meanwhile import Meanwhile
from tidegate.geometry.stretch import island_stretch, singular_values, triangle_ratio
from tidegate.geometry.texel_density import texel_density
from tidegate.geometry.tiles import SEEN, island_tiles
from tidegate.geometry.upright import Upright, island_upright
from tidegate.geometry.winding import island_winding
from tidegate.measure.driving import Driving
from tidegate.measure.surface import Surface

FLOATS = (
    "uv_area",
    "world_area",
    "density",
    "stretch_ratio",
    "stretch_l2",
    "stretch_worst",
    "up_degrees",
    "up_certainty",
)


class Unfolded(NamedTuple):
    """What of a layer needs no labels. uv, signed, flat: as in `LaidOut`. pull: the singular values of its triangles, by
    the size of the map, where that has one size."""

    uv: NDArray[np.float64]
    signed: NDArray[np.float64]
    flat: NDArray[np.bool_]
    pull: dict[tuple[float, float], tuple[NDArray[np.float64], NDArray[np.float64]]]


def unfolded(
    placed: NDArray[np.float64], uv_triangles: NDArray[np.int32], driving: Driving, surface: Surface
) -> Unfolded:
    uv = corner_columns(placed, uv_triangles)
    signed = uv_areas(uv)
    pull = {}
    if len(sizes := set(driving.sizes.values())) == 1:
        width, height = (float(side) for side in sizes.pop())
        pull[width, height] = singular_values(uv, surface.xyz, width, height)
    return Unfolded(uv, signed, flat_in_tile(uv, signed), pull)


def island_columns(
    laid: Unfolded,
    surface: Surface,
    labels: NDArray[np.int32],
    count: int,
    driving: Driving,
    upright: bool,
    ratio: NDArray[np.float32],
    beside: bool,
) -> dict[str, NDArray[Any]]:
    uv, signed, flat = laid.uv, laid.signed, laid.flat
    turned = {}
    if upright and beside:
        turned = {
            (width, height): Meanwhile(
                partial(island_upright, uv, surface.xyz, labels, count, width=width, height=height), beside=True
            )
            for width, height in laid.pull
        }
    unsigned = np.where(flat, 0.0, np.abs(signed))
    winding = island_winding(signed, flat, labels, count)
    boxes = island_boxes(uv, labels, count)
    placed = island_tiles(boxes)
    # Numbered by the tile an island has its middle in, so one that reaches over a border by accident stays with its neighbours.
    homes = udim_numbers(placed.home_u, placed.home_v)
    sizes = np.array([driving.size(int(tile)) for tile in homes], dtype=np.float64).reshape(count, 2)
    columns: dict[str, NDArray[Any]] = {
        "tile": homes,
        "inside": island_tiles(boxes, SEEN / sizes).inside,
        "corner": np.stack([placed.home_u, placed.home_v], axis=1),
        "triangles": np.bincount(labels[labels >= 0], minlength=count).astype(np.int64),
        # As stored, slivers included: only what is judged asks whether an area can be told from rounding (winding 0).
        "uv_area": island_sums(np.abs(signed), labels, count),
        "world_area": island_sums(surface.areas, labels, count),
        "bounds": boxes,
        "centre": island_centres(surface.xyz, surface.areas, labels, count),
        "winding": winding.sign,
        "folded": winding.folded,
        "flat": winding.flat,
        **{name: np.full(count, np.nan) for name in FLOATS if name not in ("uv_area", "world_area")},
    }
    for width, height in sorted({(float(w), float(h)) for w, h in sizes}):
        known = turned.get((width, height))
        marker = known.result() if known is not None else None
        if upright and marker is None:
            marker = island_upright(uv, surface.xyz, labels, count, width=width, height=height)
        _fill_texel_columns(columns, laid, surface, unsigned, labels, count, sizes, width, height, marker, ratio)
    return columns


def udim_numbers(u: NDArray[np.int64], v: NDArray[np.int64]) -> NDArray[np.int32]:
    """UDIM numbers of tiles, 0 where the numbering has none."""
    numbered = (u >= 0) & (u <= 9) & (v >= 0) & (v < 100_000)
    return np.where(numbered, 1001 + u + 10 * v, 0).astype(np.int32)


def _fill_texel_columns(
    columns: dict[str, NDArray[Any]],
    laid: Unfolded,
    surface: Surface,
    unsigned: NDArray[np.float64],
    labels: NDArray[np.int32],
    count: int,
    sizes: NDArray[np.float64],
    width: float,
    height: float,
    marker: Upright | None,
    ratio: NDArray[np.float32],
) -> None:
    """Density, stretch and markers of the islands painted on a map of this size; `ratio` of their triangles is filled."""
    here = (sizes[:, 0] == width) & (sizes[:, 1] == height)
    larger, smaller = laid.pull.get((width, height)) or singular_values(laid.uv, surface.xyz, width, height)
    drawn = slice(None) if here.all() and labels.min(initial=0) >= 0 else np.append(here, False)[labels]
    with np.errstate(over="ignore"):  # a ratio beyond single precision is stored as infinite
        ratio[drawn] = triangle_ratio(larger, smaller)[drawn]
    stretch = island_stretch(larger, smaller, unsigned * (width * height), surface.areas, labels, count)
    density = texel_density(columns["uv_area"], columns["world_area"], width, height)
    for name, values in (
        ("density", density),
        ("stretch_ratio", stretch.ratio),
        ("stretch_l2", stretch.l2),
        ("stretch_worst", stretch.worst),
    ):
        columns[name][here] = values[here]
    if marker is not None:
        columns["up_degrees"][here] = marker.degrees[here]
        columns["up_certainty"][here] = marker.certainty[here]
