"""Quads and larger polygons whose corners do not lie in one plane."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from tidegate.model.check import Check, Limit, Scope
from tidegate.model.facts import Facts
from tidegate.model.faulty import BODY_SCOPE, faulty_bodies
from tidegate.model.finding import Finding
from tidegate.model.wording import count, number


def run(facts: Facts, limits: Mapping[str, Any], scope: Scope) -> Iterator[Finding]:
    for fault in faulty_bodies(facts, scope, lambda body: body.bent(limits["largest_degrees"])):
        yield Finding(
            check="bent-polygons",
            level="",
            message=(
                f"{fault.where}: {count(fault.total, 'polygon')} bent by more than {number(limits['largest_degrees'])} "
                f"degrees along a diagonal"
            ),
            place=fault.place,
            measured=fault.total,
            wanted=0,
            unit="polygons",
            help="cut these polygons along the edge you want to see, or flatten them",
        )


CHECK = Check(
    name="bent-polygons",
    group="mesh",
    stage=42,
    needs=frozenset({"files", "meshes", "topology"}),
    looks_at="how far the triangles that a polygon of the file is cut into bend against each other",
    why="every program may cut a bent polygon along another diagonal, and shape and shading change with it",
    put_right="cut the polygon along the wanted diagonal before export",
    blind_spots="formats that keep triangles only, such as glTF, no longer show what was a polygon",
    limits=(
        Limit(
            "largest_degrees",
            "number",
            10.0,
            "degrees",
            "bend along a diagonal at most; common practice, no source",
            low=0.5,
            high=180,
        ),
    ),
    scope=BODY_SCOPE,
    run=run,
)
