"""Islands counted and measured the plain way: tuples, dictionaries and one triangle after the other; SciPy joins them.

Nothing of the package is used here, so that the package has somebody to agree with. Slow, and easy to believe.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field

from scipy.sparse import coo_matrix
from scipy.sparse.csgraph import connected_components

Point = tuple[float, float, float]
Uv = tuple[float, float]


@dataclass
class PlainPart:
    """The triangles of one mesh at one node with one material.

    corners: three positions a triangle, metres, counter-clockwise from the front. uvs: UV layer -> three UVs a triangle, V
    up, None for a triangle without. placed: the same UVs as the map is laid on them, where a material moves its map.
    size: texels of the map that drives a layer.
    """

    mesh: str
    node: str
    material: str
    corners: list[tuple[Point, Point, Point]] = field(default_factory=list)
    uvs: dict[int, list[tuple[Uv, Uv, Uv] | None]] = field(default_factory=dict)
    placed: dict[int, list[tuple[Uv, Uv, Uv] | None]] = field(default_factory=dict)
    size: dict[int, tuple[int, int]] = field(default_factory=dict)


@dataclass(frozen=True)
class PlainIsland:
    """uv_area: without sign. signed_area: its sign tells a mirrored island. density: None where there is none."""

    part: str
    uv_layer: int
    triangles: int
    uv_area: float
    signed_area: float
    world_area: float
    density: float | None


def islands_of(part: PlainPart, layer: int) -> list[PlainIsland]:
    """Triangles joined over edges whose two ends agree in position and UV exactly."""
    uvs = part.uvs[layer]
    placed = part.placed.get(layer, uvs)
    rows: list[int] = []
    columns: list[int] = []
    first_at: dict[object, int] = {}
    for t, (corners, uv) in enumerate(zip(part.corners, uvs, strict=True)):
        if uv is None:
            continue
        ends = [(corners[i], uv[i]) for i in range(3)]
        for a, b in ((0, 1), (1, 2), (2, 0)):
            if ends[a] == ends[b]:
                continue  # an edge without length joins nothing
            edge = frozenset((ends[a], ends[b]))
            other = first_at.setdefault(edge, t)
            if other != t:
                rows.append(other)
                columns.append(t)
    count = len(uvs)
    _, labels = connected_components(
        coo_matrix(([1] * len(rows), (rows, columns)), shape=(count, count)), directed=False
    )
    members: dict[int, list[int]] = {}
    for t, label in enumerate(labels):
        if uvs[t] is not None:
            members.setdefault(int(label), []).append(t)
    return [_measured(part, layer, triangles, placed) for triangles in members.values()]


def _measured(
    part: PlainPart, layer: int, triangles: Sequence[int], placed: Sequence[tuple[Uv, Uv, Uv] | None]
) -> PlainIsland:
    signed = [shoelace(placed[t]) for t in triangles]
    uv_area = math.fsum(abs(area) for area in signed)
    world = math.fsum(surface(part.corners[t]) for t in triangles)
    width, height = part.size.get(layer, (0, 0))
    density = math.sqrt(uv_area * width * height / world) if world > 0 and uv_area > 0 else None
    return PlainIsland(part.mesh, layer, len(triangles), uv_area, math.fsum(signed), world, density)


def shoelace(uv: Sequence[Uv]) -> float:
    """Signed area of a triangle in the tile, V up: positive as seen from the front when it is not mirrored."""
    (ax, ay), (bx, by), (cx, cy) = uv
    return ((bx - ax) * (cy - ay) - (cx - ax) * (by - ay)) / 2


def surface(corners: Sequence[Point]) -> float:
    """Area of a triangle in space: half the length of the cross product of two sides."""
    a, b, c = corners
    u = [q - p for p, q in zip(a, b, strict=True)]
    v = [q - p for p, q in zip(a, c, strict=True)]
    cross = (u[1] * v[2] - u[2] * v[1], u[2] * v[0] - u[0] * v[2], u[0] * v[1] - u[1] * v[0])
    return math.sqrt(sum(side * side for side in cross)) / 2


def differences(plain: Iterable[PlainPart], facts: dict[str, object], *, assumed: int = 2048) -> list[str]:
    """What a report's facts say otherwise than the plain reading; [] when they agree.

    Numbers in a report are rounded to six digits, and islands of next to no UV area are left out where their sign or
    density is rounding noise.
    """
    told: list[str] = []
    parts = list(plain)
    triangles = sum(len(part.corners) for part in parts)
    if triangles != facts["triangles"]:
        told.append(f"{facts['triangles']} triangles, plainly {triangles}")
    layers = max((len(part.uvs) for part in parts), default=0)
    if layers != facts["uv_layers"]:
        told.append(f"{facts['uv_layers']} UV layers, plainly {layers}")
    for part in parts:
        for layer in part.uvs:
            part.size.setdefault(layer, (assumed, assumed))
    here = [island for part in parts for layer in part.uvs for island in islands_of(part, layer)]
    there: list[dict[str, object]] = facts["islands"]
    if len(here) != len(there):
        told.append(f"{len(there)} islands, plainly {len(here)}")
    told += _counted(
        "triangles an island", Counter(island.triangles for island in here), Counter(row["triangles"] for row in there)
    )
    told += _paired("uv_area", [i.uv_area for i in here], [row["uv_area"] for row in there])
    told += _paired("world_area_m2", [i.world_area for i in here], [row["world_area_m2"] for row in there])
    sure = [i for i in here if abs(i.signed_area) > 1e-9]
    sure_rows = [row for row in there if float(row["uv_area"]) > 1e-9]
    balanced = len(sure) != len(sure_rows)  # an island folded onto itself in equal parts has no sign to compare
    mirrored = sum(i.signed_area < 0 for i in sure)
    if not balanced and mirrored != sum(bool(row["mirrored"]) for row in sure_rows):
        told.append(f"{sum(bool(row['mirrored']) for row in sure_rows)} mirrored, plainly {mirrored}")
    told += _paired(
        "density_px_per_m",
        [i.density for i in here if i.density is not None],
        [row["density_px_per_m"] for row in there if row["density_px_per_m"] is not None],
    )
    return told


def _counted(what: str, here: Counter[int], there: Counter[object]) -> list[str]:
    return [] if here == there else [f"{what}: {dict(there - here)} too many, {dict(here - there)} too few"]


def _paired(what: str, here: list[float], there: list[object]) -> list[str]:
    """Sorted numbers compared one by one: equal within the rounding of a report."""
    told = []
    rows = sorted(float(value) for value in there)
    if len(here) != len(rows):
        return [f"{what}: {len(rows)} values, plainly {len(here)}"]
    for mine, theirs in zip(sorted(here), rows, strict=True):
        if not math.isclose(mine, theirs, rel_tol=2e-5, abs_tol=1e-11):
            told.append(f"{what}: {theirs}, plainly {mine}")
    return told[:5]
