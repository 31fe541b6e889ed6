"""Islands of every part and UV layer: labelled, measured, and put into one table in canonical order."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property, partial
from typing import Any

import numpy as np
from numpy.typing import NDArray

from tidegate.geometry.backs import shared_backs
from tidegate.geometry.borders import border_sides
from tidegate.geometry.edges import edge_mates
from tidegate.geometry.islands import label_islands
from tidegate.geometry.meanwhile import Meanwhile
from tidegate.geometry.weld import corner_ids
from tidegate.measure.driving import Driving, driving_map
from tidegate.measure.island_columns import FLOATS, island_columns, unfolded
from tidegate.measure.parts import parts_of, plain_parts, surfaces_of
from tidegate.measure.rounding import significant
from tidegate.measure.surface import Surface
from tidegate.model.facts import FarUv, IslandColumns, PartFacts
from tidegate.model.mesh import MeshFile, UvLayer, UvTransform
from tidegate.model.prop import Prop
from tidegate.model.selection import COLLISION
from tidegate.model.set_settings import FARTHEST_UV


@dataclass(frozen=True, eq=False)
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

    @cached_property
    def borders(self) -> NDArray[np.int64]:
        """`borders.border_sides` of the layer."""
        return border_sides(self.mates, self.island)


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
        unfolding = Meanwhile(partial(unfolded, placed, uv_triangles, driving, surface), beside=beside)
        corners, _ = corner_ids(part.positions, part.triangles, layer.uv, uv_triangles, surface.welded[0])
        mates = edge_mates(corners)
        labels, count = label_islands(corners, mates)
        laid = unfolding.result()
        backs = shared_backs(corners, mates, labels, count, laid.signed, laid.flat, surface.faces)
        if backs is not None:
            corners = np.where(backs[:, None], corners + (int(corners.max()) + 1), corners).astype(np.int32)
            mates = edge_mates(corners)
            labels, count = label_islands(corners, mates)
        ratio = np.full(len(labels), np.inf, np.float32)
        columns = island_columns(laid, surface, labels, count, driving, upright, ratio, beside)
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
