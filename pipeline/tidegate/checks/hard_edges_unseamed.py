"""Edges where the shading breaks and the layout does not."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from tidegate.model.check import Check, Limit, Scope
from tidegate.model.facts import Facts
from tidegate.model.finding import Finding, Place
from tidegate.model.selection import PART_SCOPE, parts_in
from tidegate.model.wording import count, length, number, rounded


def run(facts: Facts, limits: Mapping[str, Any], scope: Scope) -> Iterator[Finding]:
    taken = dict(parts_in(facts, scope))
    for cuts in facts.cuts:
        part = taken.get(cuts.part)
        if part is None or cuts.uv_layer != 0 or not cuts.shaded:
            continue
        edges, metres = cuts.hard_and_whole(limits["degrees"])
        if edges.total <= limits["allowed"]:
            continue
        where = f"mesh `{part.mesh or part.node}`" + (f" (material `{part.material}`)" if part.material else "")
        yield Finding(
            check="hard-edges-unseamed",
            level="",
            message=(
                f"{count(edges.total, 'edge')} of {where} with a break of shading over {number(limits['degrees'])} degrees "
                f"and no seam, {length(metres)} together"
            ),
            place=Place(
                file=part.file,
                role=part.role,
                node=part.node,
                mesh=part.mesh,
                material=part.material,
                uv_layer=0,
                point=edges.point,
            ),
            measured=rounded(edges.total),
            wanted=limits["allowed"],
            unit="edges",
            help="cut the layout along these edges and leave room between the sides, or smooth the shading there",
        )


CHECK = Check(
    name="hard-edges-unseamed",
    group="UV layout",
    stage=63,
    needs=frozenset({"files", "meshes", "headers", "islands", "cuts"}),
    looks_at="edges with different vertex normals on both sides that lie inside an island of UV layer 0",
    why="a baked normal map jumps at a hard edge; without room between the sides the jump bleeds over and shows as a line",
    put_right="cut the layout along hard edges, or make them smooth",
    blind_spots="files without vertex normals, and edges where the material changes",
    limits=(
        Limit(
            "degrees",
            "number",
            30.0,
            "degrees",
            "between the normals of both sides from which on an edge is hard; common practice, no source",
            low=0,
            high=180,
        ),
        Limit("allowed", "integer", 0, "edges", "such edges of one mesh and material that still pass", low=0),
    ),
    level="note",
    scope=PART_SCOPE,
    run=run,
)
