"""Neighbours of which one shows its front and the other its back."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from tidegate.model.check import Check, Limit, Scope
from tidegate.model.facts import Facts
from tidegate.model.faulty import BODY_SCOPE, faces_of, faulty_bodies
from tidegate.model.finding import Finding, Shown
from tidegate.model.wording import count


def run(facts: Facts, limits: Mapping[str, Any], scope: Scope) -> Iterator[Finding]:
    for fault in faulty_bodies(facts, scope, lambda body: body.turned):
        if fault.total <= limits["allowed"]:
            continue
        yield Finding(
            check="turned-faces",
            level="",
            message=f"{fault.where}: the faces on both sides of {count(fault.total, 'edge')} face opposite ways",
            place=fault.place,
            measured=fault.total,
            wanted=limits["allowed"],
            unit="edges",
            shown=Shown(faces=faces_of(facts, scope, "turned", fault.place)),
            help="turn the faces that show their back: recalculate the outside of the mesh and look at what remains",
        )


CHECK = Check(
    name="turned-faces",
    group="mesh",
    stage=41,
    needs=frozenset({"files", "meshes", "topology"}),
    looks_at="edges with two triangles that run along them in the same direction, so that one of them must be turned round",
    why="turned faces vanish where backs are not drawn, and are lit from the wrong side where they are",
    put_right="turn these faces so that all fronts face outwards",
    blind_spots="a part that is turned as a whole agrees with itself and is another check's",
    limits=(Limit("allowed", "integer", 0, "edges", "such edges in all that still pass", low=0),),
    scope=BODY_SCOPE,
    run=run,
)
