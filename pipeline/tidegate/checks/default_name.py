"""Names that a program gave and nobody changed."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from typing import Any

from tidegate.model.check import Check, Limit, Scope
from tidegate.model.facts import Facts
from tidegate.model.finding import Finding, Place
from tidegate.model.wording import one_of

KINDS = ("material", "mesh", "node")
SHOWN = 5
# Common practice, no source: shapes, containers and shading models that programs name things after.
WORDS = (
    *("material", "default", "none", "untitled", "unnamed", "new material", "dummy", "test"),
    *("lambert", "phong", "blinn", "standard"),
    *("object", "mesh", "node", "group", "null", "empty", "shape"),
    *("cube", "box", "plane", "sphere", "icosphere", "cylinder", "cone", "torus", "circle", "curve"),
)


def run(facts: Facts, limits: Mapping[str, Any], scope: Scope) -> Iterator[Finding]:
    words = "|".join(re.escape(word.casefold()).replace(r"\ ", "[ _-]?") for word in limits["words"])
    if not words:
        return
    # The word alone, or with the number of a copy behind it.
    default = re.compile(rf"(?:{words})(?:[ ._#-]*\d+)*")
    for mesh in facts.prop.meshes:
        for kind in limits["kinds"]:
            names = [name for name in _names(mesh, kind) if default.fullmatch(name.strip().casefold())]
            if not names:
                continue
            shown = [f"`{name}`" for name in names[:SHOWN]]
            if len(names) > SHOWN:
                shown.append(f"{len(names) - SHOWN} more")
            yield Finding(
                check="default-name",
                level="",
                message=f"{mesh.path}: {kind} named by the program: {one_of(shown, 'and')}",
                place=_place(mesh.path, kind, names[0]),
                measured=len(names),
                wanted=0,
                unit="names",
                help="name things by what they are, such as `oak` or `lid`",
            )


def _names(mesh: Any, kind: str) -> list[str]:
    if kind == "material":
        worn = sorted({part.material for part in mesh.parts if part.material >= 0})
        found = [mesh.materials[number].name for number in worn]
    elif kind == "mesh":
        found = [part.mesh for part in mesh.parts]
    else:
        found = [node.name for node in mesh.nodes]
    return list(dict.fromkeys(name for name in found if name))


def _place(file: str, kind: str, name: str) -> Place:
    return Place(
        file=file,
        node=name if kind == "node" else "",
        mesh=name if kind == "mesh" else "",
        material=name if kind == "material" else "",
    )


CHECK = Check(
    name="default-name",
    group="nodes and materials",
    stage=48,
    needs=frozenset({"files", "meshes"}),
    looks_at="names of materials, meshes and nodes against the words that programs name new things with",
    why="`material.003` tells nobody what it is, and two props that both have one get mixed up",
    put_right="give it the name of what it is",
    blind_spots="a thing that really is a cube, and defaults in other languages",
    limits=(
        Limit("kinds", "texts", ["material"], "", "names that are looked at", choices=KINDS),
        Limit("words", "texts", list(WORDS), "", "words that programs begin with; common practice, no source"),
    ),
    run=run,
)
