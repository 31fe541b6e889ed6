"""A name that the studio's names scheme cannot read without a fault."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from tidegate.model.check import Check, Limit, Scope
from tidegate.model.facts import Facts
from tidegate.model.finding import Finding, Place

ONE = {
    "folder": "a folder",
    "mesh": "a mesh file",
    "map": "a map",
    "master": "a master",
    "node": "a node",
    "material": "a material",
}
KINDS = tuple(ONE)


def run(facts: Facts, limits: Mapping[str, Any], scope: Scope) -> Iterator[Finding]:
    for reading in facts.prop.readings:
        if reading.kind not in limits["kinds"]:
            continue
        for _, fault in reading.problems:
            yield Finding(
                check="name-out-of-form",
                level="",
                message=f"`{reading.name}`: {fault}",
                place=Place(file=reading.path, **_named(reading.kind, reading.name)),
                measured=reading.name,
                wanted=reading.proposal or None,
                help=(f"call it `{reading.proposal}`; " if reading.proposal else "")
                + f"{ONE[reading.kind]} is named {reading.form}",
            )


def _named(kind: str, name: str) -> dict[str, Any]:
    return {kind: name} if kind in ("node", "material") else {}


CHECK = Check(
    name="name-out-of-form",
    group="files and names",
    stage=26,
    needs=frozenset({"files", "meshes"}),
    looks_at="names of folders, files, nodes and materials, field by field, against the studio's names scheme",
    why="everyone after you finds, sorts and replaces files by name; one odd name is one lost file",
    put_right="take the proposed name: it has been read by the scheme and passes",
    blind_spots="a well-formed name can still be the name of another thing",
    limits=(
        Limit(
            "kinds",
            "texts",
            ["folder", "mesh", "map", "master"],
            "",
            "kinds of names that are judged: folder, mesh, map, master, node, material",
            choices=KINDS,
        ),
    ),
    run=run,
)
