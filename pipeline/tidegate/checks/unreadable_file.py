"""A mesh file that cannot be read as what it claims to be."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from tidegate.model.check import Check, Scope
from tidegate.model.facts import Facts
from tidegate.model.finding import Finding, Place


def run(facts: Facts, limits: Mapping[str, Any], scope: Scope) -> Iterator[Finding]:
    for path, what, help in facts.prop.unreadable:
        yield Finding(
            check="unreadable-file",
            level="",
            message=f"{path} cannot be read: {what}",
            place=Place(file=path),
            help=help or "export it again and open the export once before dropping it",
        )


CHECK = Check(
    name="unreadable-file",
    group="files and names",
    stage=10,
    needs=frozenset({"files", "meshes"}),
    looks_at="every mesh file of the prop: whether it opens, and whether all of its geometry can be read",
    why="what cannot be read cannot be judged, and a half-read mesh would be judged wrongly",
    put_right="export again; where the message names a missing reader or extension, export without it or as GLB",
    blind_spots="a file that reads well may still not be the mesh you meant",
    run=run,
)
