"""More vertices than allowed, as the file stores them."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from tidegate.model.check import Check, Limit, Scope
from tidegate.model.facts import Facts
from tidegate.model.finding import Finding, Place
from tidegate.model.selection import PART_SCOPE, parts_in
from tidegate.model.wording import number


def run(facts: Facts, limits: Mapping[str, Any], scope: Scope) -> Iterator[Finding]:
    totals: dict[str, list[int]] = {}
    for _, part in parts_in(facts, scope, collision=True):
        sums = totals.setdefault(part.role, [0, 0])
        sums[0] += part.vertices
        sums[1] += part.triangles
    most, ratio = limits["most"], limits["per_triangle"]
    for role, (vertices, triangles) in sorted(totals.items()):
        if most is not None and vertices > most:
            yield Finding(
                check="vertices-over-budget",
                level="",
                message=f"{role} has {vertices:,} vertices, allowed are {most:,}",
                place=Place(role=role),
                measured=vertices,
                wanted=most,
                unit="vertices",
                help="thin the mesh out, or split fewer vertices: seams and hard edges each cost one more",
            )
        if ratio is not None and triangles and vertices / triangles > ratio:
            yield Finding(
                check="vertices-over-budget",
                level="",
                message=(
                    f"{role} has {number(vertices / triangles, 3)} vertices a triangle, allowed are {number(ratio, 3)}: "
                    f"its vertices are split more than seams and hard edges ask for"
                ),
                place=Place(role=role),
                measured=round(vertices / triangles, 4),
                wanted=ratio,
                unit="vertices/triangle",
                help="weld what lies in one place with one normal and UV, and export with an index",
            )


CHECK = Check(
    name="vertices-over-budget",
    group="mesh",
    stage=40,
    needs=frozenset({"files", "meshes"}),
    looks_at="vertices of each mesh role as the file stores them, split at seams and hard edges, in all and a triangle",
    why="vertices are what is transformed and kept in memory; split ones are paid for like any other",
    put_right="fewer seams and hard edges, or a thinner mesh",
    blind_spots="OBJ keeps positions apart from normals and UVs, so its count is the smallest there can be",
    limits=(
        Limit("most", "integer", None, "vertices", "vertices of a role at most", low=1),
        Limit(
            "per_triangle",
            "number",
            None,
            "vertices/triangle",
            "vertices a triangle at most; 3 is every corner split",
            low=0,
        ),
    ),
    scope=PART_SCOPE,
    run=run,
)
