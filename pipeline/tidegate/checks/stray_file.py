"""A file in the drop that belongs to no prop."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from tidegate.model.check import Check, Scope
from tidegate.model.facts import Facts
from tidegate.model.finding import Finding, Place


def run(facts: Facts, limits: Mapping[str, Any], scope: Scope) -> Iterator[Finding]:
    for path in facts.prop.stray:
        yield Finding(
            check="stray-file",
            level="",
            message=f"{path} belongs to no prop of this drop: no mesh names it and its name fits none",
            place=Place(file=path),
            help="give it the prop's name with the ending of its slot, or leave it out of the drop",
        )


CHECK = Check(
    name="stray-file",
    group="files and names",
    stage=24,
    needs=frozenset({"files", "meshes", "headers"}),
    looks_at="files that no mesh refers to and whose names fit no prop of the drop",
    why="a stray map is often the missing map under a wrong name",
    put_right="rename it, or leave it out",
    blind_spots="a stray file with a fitting name is taken for part of the prop",
    level="warning",
    run=run,
)
