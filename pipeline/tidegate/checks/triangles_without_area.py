"""Triangles that have no area."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from tidegate.model.check import Check, Limit, Scope
from tidegate.model.facts import Facts
from tidegate.model.faulty import BODY_SCOPE, faulty_bodies
from tidegate.model.finding import Finding
from tidegate.model.wording import count


def run(facts: Facts, limits: Mapping[str, Any], scope: Scope) -> Iterator[Finding]:
    for fault in faulty_bodies(facts, scope, lambda body: body.flat):
        if fault.total <= limits["allowed"]:
            continue
        yield Finding(
            check="triangles-without-area",
            level="",
            message=f"{fault.where}: {count(fault.total, 'triangle')} without area",
            place=fault.place,
            measured=fault.total,
            wanted=limits["allowed"],
            unit="triangles",
            help="merge the vertices that lie in one place or on one line, and delete what is left of the faces",
        )


CHECK = Check(
    name="triangles-without-area",
    group="mesh",
    stage=41,
    needs=frozenset({"files", "meshes", "topology"}),
    looks_at="triangles whose height cannot be told from the rounding of single-precision coordinates",
    why="they draw nothing, and their normals and tangents are undefined",
    put_right="merge by distance and dissolve faces without area",
    blind_spots="triangles that are merely thin are another check's; a polygon cut into triangles along one line shows here too",
    limits=(
        Limit(
            "allowed",
            "integer",
            0,
            "triangles",
            "such triangles in all that still pass; common practice, no source",
            low=0,
        ),
    ),
    scope=BODY_SCOPE,
    run=run,
)
