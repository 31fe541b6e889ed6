"""A reference that leads out of the drop."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from tidegate.model.check import Check, Scope
from tidegate.model.facts import Facts
from tidegate.model.finding import Finding, Place
from tidegate.model.references import users_of


def run(facts: Facts, limits: Mapping[str, Any], scope: Scope) -> Iterator[Finding]:
    for mesh in facts.prop.meshes:
        for number, reference in enumerate(mesh.references):
            if reference.status != "outside":
                continue
            slots, materials = users_of(mesh, number)
            tail = f"; `{reference.path}` in the drop has the same name and was used" if reference.path else ""
            yield Finding(
                check="outside-reference",
                level="",
                message=f"{mesh.path} names the {reference.kind} `{reference.text}`, a path outside the drop; not opened{tail}",
                place=Place(
                    file=mesh.path,
                    material=materials[0] if materials else "",
                    slot=slots[0] if slots else "",
                    map=reference.text,
                ),
                measured=reference.text,
                wanted="a path relative to the mesh file, inside the drop",
                help="export with relative paths and put the file into the drop",
            )


CHECK = Check(
    name="outside-reference",
    group="files and names",
    stage=20,
    needs=frozenset({"files", "meshes"}),
    looks_at="references that are absolute, name a network share or a web address, or climb above the drop",
    why="they work on one machine only, and opening them could read what is none of the gate's business",
    put_right="export with relative paths, textures beside the mesh",
    blind_spots="nothing known",
    run=run,
)
