"""More materials than allowed on one mesh role."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from tidegate.model.check import Check, Limit, Scope
from tidegate.model.facts import Facts
from tidegate.model.finding import Finding, Place
from tidegate.model.selection import parts_in
from tidegate.model.wording import count


def run(facts: Facts, limits: Mapping[str, Any], scope: Scope) -> Iterator[Finding]:
    worn: dict[str, dict[str, str]] = {}
    for _, part in parts_in(facts, scope):
        worn.setdefault(part.role, {}).setdefault(part.material, part.file)
    for role, materials in sorted(worn.items()):
        if limits["most"] is None or len(materials) <= limits["most"]:
            continue
        yield Finding(
            check="too-many-materials",
            level="",
            message=f"{role} wears {count(len(materials), 'material')}, allowed are {limits['most']}",
            place=Place(file=next(iter(materials.values())), role=role),
            measured=len(materials),
            wanted=limits["most"],
            unit="materials",
            help="paint parts onto one map that can share one, and take off what differs by color alone",
        )


CHECK = Check(
    name="too-many-materials",
    group="nodes and materials",
    stage=48,
    needs=frozenset({"files", "meshes"}),
    looks_at="how many different materials the meshes of a role wear",
    why="each material is a call of its own to draw the prop, and a set of maps in memory",
    put_right="join materials that can share maps",
    blind_spots="materials that later become one again in the delivery tree",
    limits=(Limit("most", "integer", None, "materials", "of one role at most", low=1),),
    scope=frozenset({"role", "mesh", "node"}),
    run=run,
)
