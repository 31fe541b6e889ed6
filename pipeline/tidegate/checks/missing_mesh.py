"""A prop that came without any mesh."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from tidegate.model.check import Check, Scope
from tidegate.model.facts import Facts
from tidegate.model.finding import Finding, Place
from tidegate.model.wording import count


def run(facts: Facts, limits: Mapping[str, Any], scope: Scope) -> Iterator[Finding]:
    prop = facts.prop
    if prop.meshes or prop.unreadable:
        return
    first = prop.maps[0].path if prop.maps else (prop.files[0].path if prop.files else "")
    yield Finding(
        check="missing-mesh",
        level="",
        message=f"`{prop.name}` came as {count(len(prop.files), 'file')} without a mesh",
        place=Place(file=first),
        measured="none",
        wanted="a mesh file",
        help="drop the mesh together with its maps",
    )


CHECK = Check(
    name="missing-mesh",
    group="files and names",
    stage=12,
    needs=frozenset({"files", "meshes"}),
    looks_at="whether the prop has a mesh file at all",
    why="maps alone cannot be measured against a layout, and nothing can be delivered",
    put_right="drop mesh and maps together, in one folder or with one name",
    blind_spots="nothing known",
    run=run,
)
