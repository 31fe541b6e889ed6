"""Polygons with more corners than wanted."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any, NamedTuple

import numpy as np

from tidegate.model.check import Check, Limit, Scope
from tidegate.model.facts import Facts
from tidegate.model.faulty import faulty
from tidegate.model.finding import Finding
from tidegate.model.selection import PART_SCOPE, parts_in
from tidegate.model.wording import count


class _Found(NamedTuple):
    total: int
    point: tuple[float, float, float] | None


def run(facts: Facts, limits: Mapping[str, Any], scope: Scope) -> Iterator[Finding]:
    most = limits["corners"]
    for fault in faulty((part, _found(facts, index, most)) for index, part in parts_in(facts, scope)):
        yield Finding(
            check="many-cornered-polygons",
            level="",
            message=f"{fault.where}: {count(fault.total, 'polygon')} with more than {most} corners",
            place=fault.place,
            measured=fault.total,
            wanted=0,
            unit="polygons",
            help="cut them into quads and triangles where you want the edges to run",
        )


def _found(facts: Facts, index: int, most: int) -> _Found:
    mesh = facts.mesh_parts[index]
    if mesh.polygon is None or mesh.polygon_corners is None:
        return _Found(0, None)
    many = mesh.polygon_corners > most
    total = int(np.count_nonzero(many))
    if not total:
        return _Found(0, None)
    points = mesh.positions[mesh.triangles[many[mesh.polygon]].reshape(-1)]
    x, y, z = points[np.lexsort(points.T[::-1])[0]].round(6).tolist()
    return _Found(total, (x, y, z))


CHECK = Check(
    name="many-cornered-polygons",
    group="mesh",
    stage=42,
    needs=frozenset({"files", "meshes"}),
    looks_at="corners of the polygons that the file states",
    why="every program cuts a large polygon its own way; shading, and UVs with it, differ from what was painted",
    put_right="cut the polygon before export",
    blind_spots="formats that keep triangles only, such as glTF, no longer show what was a polygon",
    limits=(Limit("corners", "integer", 4, "corners", "of a polygon at most; common practice, no source", low=3),),
    scope=PART_SCOPE,
    run=run,
)
