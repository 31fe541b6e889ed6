"""Names that several nodes, meshes or materials of one file share."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping
from typing import Any

from tidegate.model.check import Check, Limit, Scope
from tidegate.model.facts import Facts
from tidegate.model.finding import Finding, Place
from tidegate.model.wording import one_of

KINDS = ("node", "mesh", "material")
PLURAL = {"node": "nodes", "mesh": "meshes", "material": "materials"}
SHOWN = 5


def run(facts: Facts, limits: Mapping[str, Any], scope: Scope) -> Iterator[Finding]:
    for mesh in facts.prop.meshes:
        names = {
            "node": [node.name for node in mesh.nodes],
            "mesh": list(mesh.mesh_names),
            "material": [material.name for material in mesh.materials],
        }
        for kind in limits["kinds"]:
            shared = [(name, times) for name, times in Counter(names[kind]).items() if name and times > 1]
            if not shared:
                continue
            shown = [f"`{name}` {times} times" for name, times in shared[:SHOWN]]
            if len(shared) > SHOWN:
                shown.append(f"{len(shared) - SHOWN} more names")
            yield Finding(
                check="repeated-name",
                level="",
                message=f"{mesh.path}: several {PLURAL[kind]} share a name: {one_of(shown, 'and')}",
                place=_place(mesh.path, kind, shared[0][0]),
                measured=len(shared),
                wanted=0,
                unit="names",
                help="give each a name of its own",
            )


def _place(file: str, kind: str, name: str) -> Place:
    return Place(
        file=file,
        node=name if kind == "node" else "",
        mesh=name if kind == "mesh" else "",
        material=name if kind == "material" else "",
    )


CHECK = Check(
    name="repeated-name",
    group="nodes and materials",
    stage=48,
    needs=frozenset({"files", "meshes"}),
    looks_at="names of nodes, meshes and materials that occur more than once in one file",
    why="whatever looks things up by name finds one of them and never the other",
    put_right="rename all but one",
    blind_spots="names that differ by upper and lower case alone; formats that have no nodes",
    limits=(Limit("kinds", "texts", list(KINDS), "", "names that are looked at", choices=KINDS),),
    run=run,
)
