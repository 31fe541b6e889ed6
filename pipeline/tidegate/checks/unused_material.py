"""Materials that the file states and no mesh wears."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from tidegate.model.check import Check, Scope
from tidegate.model.facts import Facts
from tidegate.model.finding import Finding, Place
from tidegate.model.wording import count, one_of

SHOWN = 5


def run(facts: Facts, limits: Mapping[str, Any], scope: Scope) -> Iterator[Finding]:
    for mesh in facts.prop.meshes:
        worn = {part.material for part in mesh.parts}
        bare = [
            material.name
            for number, material in enumerate(mesh.materials)
            if material.stated and number not in worn and scope.takes(material=material.name)
        ]
        if not bare:
            continue
        names = [f"`{name}`" for name in bare[:SHOWN]]
        if len(bare) > SHOWN:
            names.append(f"{len(bare) - SHOWN} more")
        yield Finding(
            check="unused-material",
            level="",
            message=f"{mesh.path} states {count(len(bare), 'material')} that no mesh wears: {one_of(names, 'and')}",
            place=Place(file=mesh.path, material=bare[0]),
            measured=len(bare),
            wanted=0,
            unit="materials",
            help="delete the materials that nothing wears, with the maps that only they name",
        )


CHECK = Check(
    name="unused-material",
    group="nodes and materials",
    stage=48,
    needs=frozenset({"files", "meshes"}),
    looks_at="materials of each mesh file, or of the library it names, that no part of it wears",
    why="their maps are loaded and delivered for nothing, and nobody knows whether a part has lost its material",
    put_right="delete what nothing wears",
    blind_spots="a library that several meshes share; a material kept for a variant that is switched by name",
    scope=frozenset({"material"}),
    run=run,
)
