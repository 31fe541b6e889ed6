"""Levels of detail against the model they stand in for: triangles, place, materials, and the layout they are painted on."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from tidegate.geometry.corners import corner_columns
from tidegate.geometry.raster import spans, texel_columns
from tidegate.model.facts import PartFacts
from tidegate.model.mesh import MeshPart
from tidegate.model.node_places import node_places
from tidegate.model.prop import Prop

Vector = tuple[float, float, float]
MODEL = "model"
GRID = 512  # texels a side of the raster on which layouts are compared
REACH = 1  # texels around the model's islands that still count as on them


@dataclass(frozen=True, slots=True)
class Level:
    """One level of detail. role: "lod1" ... above: the role it follows. triangles, triangles_above: of both.

    low, high and model_low, model_high: boxes in metres. pivot, model_pivot: origin of the one node that places it, None
    where there are several, or the format has no nodes. new_materials: worn here and not by the model.
    heavier: meshes that have more triangles than the mesh of their name above, (name as it is here, its, those above), by name.
    lost_layers: UV layers that the model has and this level lacks. strayed: share of its surface that is painted from
    texels outside the model's islands; None where either has no UVs. file: of its first part.
    """

    role: str
    above: str
    file: str
    triangles: int
    triangles_above: int
    low: Vector
    high: Vector
    model_low: Vector
    model_high: Vector
    pivot: Vector | None
    model_pivot: Vector | None
    new_materials: tuple[str, ...]
    lost_layers: tuple[int, ...]
    strayed: float | None
    heavier: tuple[tuple[str, int, int], ...] = ()


def measure_levels(prop: Prop, parts: Sequence[PartFacts], meshes: Sequence[MeshPart]) -> tuple[Level, ...]:
    """Every level of detail, finest first; none without a model to compare with."""
    rows: dict[str, list[int]] = {}
    for index, part in enumerate(parts):
        if part.triangles:
            rows.setdefault(part.role, []).append(index)
    levels = sorted((role for role in rows if re.fullmatch(r"lod[0-9]+", role)), key=lambda role: int(role[3:]))
    if MODEL not in rows:
        # A set of levels without a plain model: the finest one leads.
        if len(levels) < 2:
            return ()
        leads, levels = levels[0], levels[1:]
    else:
        leads = MODEL
    if not levels:
        return ()
    pivots = _pivots(prop, parts, meshes, rows)
    count = {role: sum(parts[i].triangles for i in found) for role, found in rows.items()}
    painted = _painted(meshes, rows[leads])
    model_low, model_high = _box(parts, rows[leads])
    worn = {parts[i].material for i in rows[leads]}
    layers = {layer for i in rows[leads] for layer in parts[i].uv_layers}
    found = []
    for role, above in zip(levels, (leads, *levels), strict=False):
        low, high = _box(parts, rows[role])
        found.append(
            Level(
                role=role,
                above=above,
                file=parts[rows[role][0]].file,
                triangles=count[role],
                triangles_above=count[above],
                low=low,
                high=high,
                model_low=model_low,
                model_high=model_high,
                pivot=pivots.get(role),
                model_pivot=pivots.get(leads),
                new_materials=tuple(sorted({parts[i].material for i in rows[role]} - worn)),
                lost_layers=tuple(sorted(layers - {layer for i in rows[role] for layer in parts[i].uv_layers})),
                strayed=_strayed(meshes, rows[role], painted),
                heavier=_heavier(_by_name(parts, rows[above]), _by_name(parts, rows[role])),
            )
        )
    return tuple(found)


def _by_name(parts: Sequence[PartFacts], rows: Sequence[int]) -> dict[str, tuple[str, int]]:
    """Whole name and triangles of each mesh by its name without the word for its level, of one that several nodes place once
    each."""
    found: dict[str, tuple[str, int]] = {}
    for i in rows:
        whole = parts[i].mesh or parts[i].node
        name = re.sub(r"[-_. ]?lod[0-9]+$", "", whole, flags=re.IGNORECASE)
        found[name] = (whole, found.get(name, ("", 0))[1] + parts[i].triangles)
    return found


def _heavier(above: dict[str, tuple[str, int]], own: dict[str, tuple[str, int]]) -> tuple[tuple[str, int, int], ...]:
    """Meshes that grew, where both levels have the same ones: what was joined for the level has no namesake to compare with."""
    if above.keys() != own.keys() or "" in own:
        return ()
    return tuple((*own[name], above[name][1]) for name in sorted(own) if own[name][1] > above[name][1])


def _box(parts: Sequence[PartFacts], rows: Sequence[int]) -> tuple[Vector, Vector]:
    low = tuple(min(parts[i].bounds[0][axis] for i in rows) for axis in range(3))
    high = tuple(max(parts[i].bounds[1][axis] for i in rows) for axis in range(3))
    return (low[0], low[1], low[2]), (high[0], high[1], high[2])


def _pivots(
    prop: Prop, parts: Sequence[PartFacts], meshes: Sequence[MeshPart], rows: dict[str, list[int]]
) -> dict[str, Vector]:
    places = {mesh.path: node_places(mesh) for mesh in prop.meshes if mesh.nodes}
    found = {}
    for role, indices in rows.items():
        nodes = {(parts[i].file, meshes[i].node_number) for i in indices}
        if len(nodes) == 1:
            file, number = nodes.pop()
            if file in places and number >= 0:
                found[role] = places[file][number]
    return found


def _painted(meshes: Sequence[MeshPart], rows: Sequence[int]) -> NDArray[np.bool_] | None:
    """(GRID, GRID) whether the model paints a texel of its first tile, islands moved there by whole tiles."""
    columns = [uv for i in rows if (uv := _first_layer(meshes[i])) is not None]
    if not columns:
        return None
    texels = texel_columns(np.concatenate(columns, axis=2), GRID, GRID)
    covered = np.zeros(GRID * GRID + 1, np.int32)
    for run in spans(texels, GRID, GRID):
        row = run.row.astype(np.int64) * GRID
        np.add.at(covered, row + run.left, 1)
        np.add.at(covered, row + run.right, -1)
    hit = (np.cumsum(covered)[:-1] > 0).reshape(GRID, GRID)
    # Thin islands may slip between the texels' centres: every corner counts as painted too.
    at = np.clip(texels.transpose(0, 2, 1).reshape(-1, 2), 0, GRID - 1).astype(np.int64)
    hit[at[:, 1], at[:, 0]] = True
    for _ in range(REACH):
        wide = hit.copy()
        wide[1:] |= hit[:-1]
        wide[:-1] |= hit[1:]
        hit = wide.copy()
        hit[:, 1:] |= wide[:, :-1]
        hit[:, :-1] |= wide[:, 1:]
    return hit


def _first_layer(part: MeshPart) -> NDArray[np.float64] | None:
    """(3, 2, m) UVs of layer 0, every triangle moved by whole tiles so that its centre lies in the first one."""
    layer = next((one for one in part.uv_layers if one.index == 0), None)
    if layer is None:
        return None
    uv = corner_columns(layer.uv, layer.triangles)
    uv = uv[:, :, np.isfinite(uv).all(axis=(0, 1))]
    return uv - np.floor(uv.mean(axis=0))[None] if uv.shape[2] else None


def _strayed(meshes: Sequence[MeshPart], rows: Sequence[int], painted: NDArray[np.bool_] | None) -> float | None:
    if painted is None:
        return None
    off = total = 0.0
    for i in rows:
        uv = _first_layer(meshes[i])
        if uv is None:
            continue
        area = np.abs((uv[1, 0] - uv[0, 0]) * (uv[2, 1] - uv[0, 1]) - (uv[2, 0] - uv[0, 0]) * (uv[1, 1] - uv[0, 1]))
        # Seven samples a triangle: its centre, and six around it.
        for weights in _SAMPLES:
            point = sum(weight * uv[corner] for corner, weight in enumerate(weights))
            u, v = np.clip(np.floor(point * GRID), 0, GRID - 1).astype(np.int64)
            off += float(area[~painted[v, u]].sum())
            total += float(area.sum())
    return off / total if total > 0.0 else None


_SAMPLES = (
    (1 / 3, 1 / 3, 1 / 3),
    (0.8, 0.1, 0.1),
    (0.1, 0.8, 0.1),
    (0.1, 0.1, 0.8),
    (0.45, 0.45, 0.1),
    (0.1, 0.45, 0.45),
    (0.45, 0.1, 0.45),
)
