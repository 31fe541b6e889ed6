"""Islands of every part and UV layer: labels, areas, boxes, winding, density, stretch and markers, in canonical order."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import partial
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from tidegate.geometry.areas import flat_in_tile, island_boxes, island_centres, island_sums, uv_areas
from tidegate.geometry.corners import corner_columns
from tidegate.geometry.edges import edge_mates
from tidegate.geometry.islands import label_islands
from tidegate.geometry.meanwhile import Meanwhile
from tidegate.geometry.stretch import island_stretch, singular_values, triangle_ratio
from tidegate.geometry.texel_density import texel_density
from tidegate.geometry.tiles import island_tiles
from tidegate.geometry.upright import Upright, island_upright
from tidegate.geometry.weld import corner_ids
from tidegate.geometry.winding import island_winding
from tidegate.measure.driving import Driving, driving_map
from tidegate.measure.rounding import significant
from tidegate.measure.surface import Surface
from tidegate.model.facts import FarUv, IslandColumns, PartFacts
from tidegate.model.mesh import MeshFile, MeshPart, UvLayer, UvTransform
from tidegate.model.prop import Prop
from tidegate.model.selection import COLLISION
from tidegate.model.set_settings import FARTHEST_UV

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


@dataclass(frozen=True, slots=True, eq=False)
class LaidOut:
    """One UV layer of one part, laid out: what later measures start from.

    part: index of the part. uv: (3, 2, m) corner columns as the driving map sees them. corners: (m, 3) welded ids.
    mates: `edges.edge_mates(corners)`. island: (m,) island row of each triangle, -1 without UVs. ratio: (m,) longer over
    shorter side of what a square texel covers, inf without UV area or surface. signed: (m,) UV areas; flat: (m,) those that
    cannot be told from rounding. surface: of the part.
    """

    part: int
    layer: int
    driving: Driving
    uv: NDArray[np.float64]
    corners: NDArray[np.int32]
    mates: NDArray[np.int32]
    island: NDArray[np.int32]
    ratio: NDArray[np.float32]
    signed: NDArray[np.float64]
    flat: NDArray[np.bool_]
    surface: Surface


@dataclass(slots=True, eq=False)
class _Rows:
    """Island columns of one layer of one part, before they are put in order."""

    part: int
    layer: int
    driving: Driving
    uv: NDArray[np.float64]
    corners: NDArray[np.int32]
    mates: NDArray[np.int32]
    labels: NDArray[np.int32]
    columns: dict[str, NDArray[Any]]
    ratio: NDArray[np.float32]
    signed: NDArray[np.float64]
    flat: NDArray[np.bool_]
    surface: Surface


def parts_of(prop: Prop) -> list[tuple[MeshFile, MeshPart]]:
    """Every part of the prop in canonical order: file, mesh, node, material name, order in the file."""
    listed = [(mesh, part, number) for mesh in prop.meshes for number, part in enumerate(mesh.parts)]
    listed.sort(key=lambda row: (row[0].path, row[1].mesh, row[1].node, material_name(row[0], row[1]), row[2]))
    return [(mesh, part) for mesh, part, _ in listed]


def material_name(mesh: MeshFile, part: MeshPart) -> str:
    """Name of the part's material, "" for none."""
    return mesh.materials[part.material].name if part.material >= 0 else ""


def measure_islands(
    prop: Prop,
    settings: Mapping[str, Any],
    *,
    upright: bool,
    surfaces: Sequence[Surface] | None = None,
    facts: tuple[PartFacts, ...] | None = None,
    beside: bool = False,
) -> tuple[tuple[PartFacts, ...], IslandColumns, tuple[LaidOut, ...]]:
    """Parts, islands and layouts of a prop. settings: of the rule set (`driving_slots`, `assumed_map_px`). surfaces: of
    the parts, in their order, and facts: `plain_parts`, when at hand. beside: use two cores."""
    parts = parts_of(prop)
    if surfaces is None:
        surfaces = surfaces_of(prop)
    if facts is None:
        facts = plain_parts(prop, surfaces)
    measured: list[_Rows] = []
    for index, ((mesh, _), surface) in enumerate(zip(parts, surfaces, strict=True)):
        measured.extend(_measure_part(prop, index, mesh, surface, facts[index], settings, upright, beside))
    return _in_order(facts, measured)


def plain_parts(prop: Prop, surfaces: Sequence[Surface]) -> tuple[PartFacts, ...]:
    """Parts without their layouts. surfaces: of the parts, in canonical order."""
    return tuple(_part_facts(mesh, surface) for (mesh, _), surface in zip(parts_of(prop), surfaces, strict=True))


def surfaces_of(prop: Prop) -> tuple[Surface, ...]:
    """The surface of every part, in canonical order."""
    return tuple(Surface(part) for _, part in parts_of(prop))


def _part_facts(mesh: MeshFile, surface: Surface) -> PartFacts:
    part = surface.mesh
    low, high = _box_of_used(surface)
    return PartFacts(
        file=mesh.path,
        node=part.node,
        mesh=part.mesh,
        material=material_name(mesh, part),
        role=part.role or mesh.role,
        triangles=len(part.triangles),
        vertices=len(part.positions),
        uv_layers=tuple(layer.index for layer in part.uv_layers),
        world_area=float(np.nansum(surface.areas)),
        bounds=((float(low[0]), float(low[1]), float(low[2])), (float(high[0]), float(high[1]), float(high[2]))),
    )


def _box_of_used(surface: Surface) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Lowest and highest corner over the positions that triangles use; zero where there are none."""
    if surface.xyz.shape[2]:
        low, high = surface.xyz.min(axis=(0, 2)), surface.xyz.max(axis=(0, 2))
        if np.isfinite(low).all() and np.isfinite(high).all():
            return low, high
    part = surface.mesh
    used = np.zeros(len(part.positions), dtype=bool)
    used[part.triangles.reshape(-1)] = True
    points = part.positions if used.all() else part.positions[used]
    finite = np.isfinite(points).all(axis=1)
    if not finite.all():
        points = points[finite]
    if not len(points):
        return np.zeros(3), np.zeros(3)
    return points.min(axis=0), points.max(axis=0)


def _measure_part(
    prop: Prop,
    index: int,
    mesh: MeshFile,
    surface: Surface,
    fact: PartFacts,
    settings: Mapping[str, Any],
    upright: bool,
    beside: bool,
) -> list[_Rows]:
    part = surface.mesh
    if fact.role == COLLISION:
        return []  # collision meshes are never painted: their UVs, if any, mean nothing
    rows = []
    for layer in part.uv_layers:
        driving = driving_map(
            prop,
            mesh,
            part.material,
            layer.index,
            slots=settings["driving_slots"],
            assumed_px=settings["assumed_map_px"],
            fallback_key=_fallback_key(fact, layer.index),
        )
        placed = _placed(layer.uv, driving.transform)
        uv_triangles = _with_usable_uvs(layer, placed, settings.get("farthest_uv", FARTHEST_UV), fact)
        unfolding = Meanwhile(partial(_unfolded, placed, uv_triangles, driving, surface), beside=beside)
        corners, _ = corner_ids(part.positions, part.triangles, layer.uv, uv_triangles, surface.welded[0])
        mates = edge_mates(corners)
        labels, count = label_islands(corners, mates)
        laid = unfolding.result()
        ratio = np.full(len(labels), np.inf, np.float32)
        columns = _island_columns(laid, surface, labels, count, driving, upright, ratio, beside)
        rows.append(
            _Rows(
                index,
                layer.index,
                driving,
                laid.uv,
                corners,
                mates,
                labels,
                columns,
                ratio,
                laid.signed,
                laid.flat,
                surface,
            )
        )
    return rows


class _Unfolded(NamedTuple):
    """What of a layer needs no labels. uv, signed, flat: as in `LaidOut`. pull: the singular values of its triangles, by
    the size of the map, where that has one size."""

    uv: NDArray[np.float64]
    signed: NDArray[np.float64]
    flat: NDArray[np.bool_]
    pull: dict[tuple[float, float], tuple[NDArray[np.float64], NDArray[np.float64]]]


def _unfolded(
    placed: NDArray[np.float64], uv_triangles: NDArray[np.int32], driving: Driving, surface: Surface
) -> _Unfolded:
    uv = corner_columns(placed, uv_triangles)
    signed = uv_areas(uv)
    pull = {}
    if len(sizes := set(driving.sizes.values())) == 1:
        width, height = (float(side) for side in sizes.pop())
        pull[width, height] = singular_values(uv, surface.xyz, width, height)
    return _Unfolded(uv, signed, flat_in_tile(uv, signed), pull)


def _fallback_key(fact: PartFacts, layer: int) -> str:
    if layer:
        return f"UV layer {layer} of {fact.mesh or fact.node or fact.file}"
    return f"material {fact.material}" if fact.material else f"mesh {fact.mesh or fact.node or fact.file}"


def _with_usable_uvs(layer: UvLayer, placed: NDArray[np.float64], allowed: float, fact: PartFacts) -> NDArray[np.int32]:
    """The layer's triangles, those with a UV that is no finite number or beyond any sense marked as having none, and told
    in `fact`. What lies 10^9 tiles away would be cut into texels there, which no memory holds. placed: UVs as painted."""
    known = layer.triangles[:, 0] >= 0
    fact.without_uv[layer.index] = len(known) - int(known.sum())
    fact.bad_uv[layer.index] = 0
    reach = np.abs(placed).max(axis=1, initial=0.0)
    unusable = ~(reach <= allowed)  # NaN is not within anything
    if not unusable.any():
        return layer.triangles
    wrong = known & unusable[layer.triangles].any(axis=1)
    undefined = ~np.isfinite(reach)
    bad = known & undefined[layer.triangles].any(axis=1)
    far = wrong & ~bad
    fact.bad_uv[layer.index] = int(bad.sum())
    if far.any():
        farthest = float(reach[layer.triangles[far]].max())
        fact.far_uv[layer.index] = FarUv(int(far.sum()), farthest, allowed)
    triangles = layer.triangles.copy()
    triangles[wrong] = -1
    return triangles


def _placed(uv: NDArray[np.float64], transform: UvTransform | None) -> NDArray[np.float64]:
    if transform is None:
        return uv
    (a, b, c), (d, e, f) = transform.matrix
    return np.stack([a * uv[:, 0] + b * uv[:, 1] + c, d * uv[:, 0] + e * uv[:, 1] + f], axis=1)


def _island_columns(
    laid: _Unfolded,
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
    columns: dict[str, NDArray[Any]] = {
        "tile": homes,
        "inside": placed.inside,
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
    sizes = np.array([driving.size(int(tile)) for tile in homes], dtype=np.float64).reshape(count, 2)
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
    laid: _Unfolded,
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


def _in_order(
    facts: tuple[PartFacts, ...], measured: list[_Rows]
) -> tuple[tuple[PartFacts, ...], IslandColumns, tuple[LaidOut, ...]]:
    """All islands in one table, in canonical order, and every triangle's island row."""
    names = [name for name in IslandColumns.__slots__ if name not in ("part", "uv_layer")]
    counts = [len(rows.columns["tile"]) for rows in measured]
    table: dict[str, NDArray[Any]] = {
        name: np.concatenate([rows.columns[name] for rows in measured]) if measured else _empty(name) for name in names
    }
    for name in FLOATS:
        table[name] = significant(table[name])
    table["bounds"] = significant(table["bounds"])
    table["centre"] = significant(table["centre"])
    table["part"] = np.repeat(np.array([rows.part for rows in measured], dtype=np.int32), counts)
    table["uv_layer"] = np.repeat(np.array([rows.layer for rows in measured], dtype=np.int32), counts)
    box, centre = table["bounds"], table["centre"]
    order = np.lexsort(
        (
            *(centre[:, axis] for axis in (2, 1, 0)),
            table["triangles"],
            table["uv_area"],
            box[:, 3],
            box[:, 2],
            box[:, 1],
            box[:, 0],
            table["uv_layer"],
            table["part"],
        )
    )
    row_of = np.empty(len(order), dtype=np.int32)
    row_of[order] = np.arange(len(order), dtype=np.int32)
    layouts = []
    start = 0
    for rows, count in zip(measured, counts, strict=True):
        local = np.append(row_of[start : start + count], np.int32(-1))  # label -1 reads the last entry
        island = local[rows.labels]
        facts[rows.part].island_of[rows.layer] = island
        layouts.append(
            LaidOut(
                rows.part,
                rows.layer,
                rows.driving,
                rows.uv,
                rows.corners,
                rows.mates,
                island,
                rows.ratio,
                rows.signed,
                rows.flat,
                rows.surface,
            )
        )
        start += count
    columns = IslandColumns(**{name: values[order] for name, values in table.items()})
    return facts, columns, tuple(layouts)


def _empty(name: str) -> NDArray[Any]:
    width = {"bounds": (0, 4), "centre": (0, 3), "corner": (0, 2)}.get(name, (0,))
    kind = np.float64 if name in (*FLOATS, "bounds", "centre") else np.int64
    return np.zeros(width, dtype=kind)
