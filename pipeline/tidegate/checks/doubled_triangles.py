"""Triangles that lie on another one and face the same way."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from tidegate.model.check import Check, Limit, Scope
from tidegate.model.facts import Facts
from tidegate.model.faulty import BODY_SCOPE, faces_of, faulty_bodies
from tidegate.model.finding import Finding, Shown
from tidegate.model.wording import count


def run(facts: Facts, limits: Mapping[str, Any], scope: Scope) -> Iterator[Finding]:
    for fault in faulty_bodies(facts, scope, lambda body: body.doubled):
        if fault.total <= limits["allowed"]:
            continue
        yield Finding(
            check="doubled-triangles",
            level="",
            message=f"{fault.where}: {count(fault.total, 'triangle')} on the corners of another one, facing the same way",
            place=fault.place,
            measured=fault.total,
            wanted=limits["allowed"],
            unit="triangles",
            shown=Shown(faces=faces_of(facts, scope, "doubled", fault.place)),
            help="delete the copies: select doubled faces, or merge by distance and remove what repeats",
        )


CHECK = Check(
    name="doubled-triangles",
    group="mesh",
    stage=41,
    needs=frozenset({"files", "meshes", "topology"}),
    looks_at="triangles of one mesh that use the three positions of another one and face the same way",
    why="they are paid for twice, show through transparent paint, and flicker where their shading differs",
    put_right="delete the copies, and merge what was left apart",
    blind_spots="copies that lie on each other without agreeing to the last bit, and copies in another mesh",
    limits=(Limit("allowed", "integer", 0, "triangles", "copies in all that still pass", low=0),),
    scope=BODY_SCOPE,
    run=run,
)
