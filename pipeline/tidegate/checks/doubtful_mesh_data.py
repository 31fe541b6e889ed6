"""What the mesh reader met and could not take at its word."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from tidegate.model.check import Check, Scope
from tidegate.model.facts import Facts
from tidegate.model.finding import Finding, Place
from tidegate.model.mesh import MeshFile

# Told by checks of their own, from the references, the layout and the nodes.
TOLD_ELSEWHERE = ("material-library-missing", "faces-without-uv", "name-twice")


def run(facts: Facts, limits: Mapping[str, Any], scope: Scope) -> Iterator[Finding]:
    noted = [
        (mesh.path, note)
        for mesh in facts.prop.meshes
        for note in mesh.notes
        if not (note.code == "material-not-defined" and _lacks_a_library(mesh))
    ]
    for path, note in (*noted, *facts.prop.notes):
        if note.code in TOLD_ELSEWHERE:
            continue
        yield Finding(
            check="doubtful-mesh-data",
            level=note.level,
            message=f"{path}: {note.message}" + (f" ({note.place})" if note.place else ""),
            place=Place(file=path),
            help=note.help,
        )


def _lacks_a_library(mesh: MeshFile) -> bool:
    """A library that is not there explains materials that are not defined; the missing file is told instead."""
    return any(r.kind == "material library" and r.status in ("missing", "outside") for r in mesh.references)


CHECK = Check(
    name="doubtful-mesh-data",
    group="files and names",
    stage=15,
    needs=frozenset({"files", "meshes"}),
    looks_at="remarks of the mesh readers: values that are not numbers, indices that lead nowhere, extensions not known",
    why="geometry that was left out or guessed at should never pass in silence",
    put_right="clean the mesh and export again; a note about an unknown material extension needs nothing",
    blind_spots="data that is well-formed and still not what was meant",
    run=run,
)
