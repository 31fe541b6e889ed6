"""Edges on which more than two triangles meet."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from tidegate.model.check import Check, Limit, Scope
from tidegate.model.facts import Facts
from tidegate.model.faulty import BODY_SCOPE, faulty_bodies
from tidegate.model.finding import Finding
from tidegate.model.wording import count


def run(facts: Facts, limits: Mapping[str, Any], scope: Scope) -> Iterator[Finding]:
    for fault in faulty_bodies(facts, scope, lambda body: body.crowded):
        if fault.total <= limits["allowed"]:
            continue
        yield Finding(
            check="crowded-edges",
            level="",
            message=f"{fault.where}: {count(fault.total, 'edge')} with more than two triangles",
            place=fault.place,
            measured=fault.total,
            wanted=limits["allowed"],
            unit="edges",
            help="take out the faces inside the model, or part the sheets that meet there",
        )


CHECK = Check(
    name="crowded-edges",
    group="mesh",
    stage=41,
    needs=frozenset({"files", "meshes", "topology"}),
    looks_at="edges of each mesh on which three triangles or more meet",
    why="such a surface has no inside; smoothing, unwrapping and thickness go wrong there, and faces inside are paid for unseen",
    put_right="delete the inner faces, or part the sheets",
    blind_spots="two closed parts that touch along an edge are told too, although each is sound",
    limits=(
        Limit(
            "allowed", "integer", 0, "edges", "crowded edges in all that still pass; common practice, no source", low=0
        ),
    ),
    scope=BODY_SCOPE,
    run=run,
)
