"""A picture that a mesh file carries or names and no material uses."""

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
            if reference.kind == "image" and not users_of(mesh, number)[0]:
                name = reference.text or reference.name or f"image {number}"
                yield Finding(
                    check="unused-reference",
                    level="",
                    message=f"{mesh.path} carries the picture `{name}`, which no material uses",
                    place=Place(file=mesh.path, map=reference.path),
                    help="leave it out of the export, or wire it to the slot it was meant for",
                )


CHECK = Check(
    name="unused-reference",
    group="files and names",
    stage=25,
    needs=frozenset({"files", "meshes"}),
    looks_at="pictures in a mesh file that no material slot uses",
    why="they cost space, and often they are a map that lost its slot",
    put_right="remove them from the export or connect them",
    blind_spots="extensions not known to tidegate may use a picture in their own way",
    level="note",
    run=run,
)
