"""Vertex colors that are there and should not be, or the other way round."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from tidegate.model.check import Check, Limit, Scope
from tidegate.model.facts import Facts
from tidegate.model.faulty import named, place_of
from tidegate.model.finding import Finding
from tidegate.model.selection import PART_SCOPE, parts_in

ABSENT, PRESENT, ANY = "absent", "present", "any"


def run(facts: Facts, limits: Mapping[str, Any], scope: Scope) -> Iterator[Finding]:
    wanted = limits["wanted"]
    if wanted == ANY:
        return
    for index, part in parts_in(facts, scope):
        there = facts.mesh_parts[index].colors is not None
        if there == (wanted == PRESENT):
            continue
        yield Finding(
            check="vertex-colors-amiss",
            level="",
            message=f"{named(part)} {'carries' if there else 'has no'} vertex colors",
            place=place_of(part),
            measured=PRESENT if there else ABSENT,
            wanted=wanted,
            help=(
                "delete the vertex colors before export: they tint the maps where nobody painted"
                if there
                else "paint the vertex colors that are wanted here, and export with them"
            ),
        )


CHECK = Check(
    name="vertex-colors-amiss",
    group="mesh",
    stage=43,
    needs=frozenset({"files", "meshes"}),
    looks_at="whether meshes carry vertex colors",
    why="left-over colors tint the painted maps (glTF 2.0, 3.9.2 multiplies them), and a shader that wants them finds none",
    put_right="delete them, or paint them, as the rule set says",
    blind_spots="what the colors are for, and whether all of them are white",
    limits=(
        Limit("wanted", "choice", ANY, "", "whether vertex colors have to be there", choices=(ABSENT, PRESENT, ANY)),
    ),
    scope=PART_SCOPE,
    run=run,
)
