"""Vertices that no triangle uses."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

import numpy as np

from tidegate.model.check import Check, Limit, Scope
from tidegate.model.facts import Facts
from tidegate.model.finding import Finding, Place
from tidegate.model.wording import count


def run(facts: Facts, limits: Mapping[str, Any], scope: Scope) -> Iterator[Finding]:
    unused = {mesh.path: mesh.unused_vertices for mesh in facts.prop.meshes}
    for part, mesh in zip(facts.parts, facts.mesh_parts, strict=True):
        used = np.zeros(len(mesh.positions), np.bool_)
        used[mesh.triangles.reshape(-1)] = True
        unused[part.file] = unused.get(part.file, 0) + int(len(used) - np.count_nonzero(used))
    for path, total in sorted(unused.items()):
        if total <= limits["allowed"]:
            continue
        yield Finding(
            check="unused-vertices",
            level="",
            message=f"{path} stores {count(total, 'vertex', 'vertices')} that no triangle uses",
            place=Place(file=path),
            measured=total,
            wanted=limits["allowed"],
            unit="vertices",
            help="delete loose points and edges, and export again",
        )


CHECK = Check(
    name="unused-vertices",
    group="mesh",
    stage=43,
    needs=frozenset({"files", "meshes"}),
    looks_at="vertices that the file stores and no triangle uses",
    why="they cost memory, and a stray point far away makes the box of the prop wrong in other programs",
    put_right="delete loose vertices before export",
    blind_spots="vertices of primitives that share one list with others are looked at together with those",
    limits=(Limit("allowed", "integer", 0, "vertices", "of one file that still pass", low=0),),
    run=run,
)
