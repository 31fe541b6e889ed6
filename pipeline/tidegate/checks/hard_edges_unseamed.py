"""Edges where the shading breaks and the layout does not."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import replace
from typing import Any

from tidegate.model.check import Check, Limit, Scope
from tidegate.model.facts import Facts
from tidegate.model.finding import Finding
from tidegate.model.selection import PART_SCOPE, parts_in, surface_place
from tidegate.model.wording import count, length, number, rounded


def run(facts: Facts, limits: Mapping[str, Any], scope: Scope) -> Iterator[Finding]:
    taken = dict(parts_in(facts, scope))
    for cuts in facts.cuts:
        parts = [taken[part] for part in cuts.parts if part in taken]
        if not parts or cuts.uv_layer != 0 or not cuts.shaded:
            continue
        edges, metres = cuts.hard_and_whole(limits["degrees"])
        if edges.total <= limits["allowed"]:
            continue
        where, place = surface_place(parts, cuts.uv_layer)
        yield Finding(
            check="hard-edges-unseamed",
            level="",
            message=(
                f"{count(edges.total, 'edge')} of {where} with a break of shading over {number(limits['degrees'])} degrees "
                f"and no seam, {length(metres)} together"
            ),
            place=replace(place, point=edges.point),
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
    blind_spots="files without vertex normals, and edges where the map changes with the material",
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
        Limit("allowed", "integer", 0, "edges", "such edges of one mesh on one map that still pass", low=0),
    ),
    level="note",
    scope=PART_SCOPE,
    run=run,
)
