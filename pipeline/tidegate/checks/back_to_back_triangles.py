"""Triangles that lie on another one and face the other way."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from tidegate.model.check import Check, Limit, Scope
from tidegate.model.facts import Facts
from tidegate.model.faulty import BODY_SCOPE, faces_of, faulty_bodies
from tidegate.model.finding import Finding, Shown
from tidegate.model.wording import count


def run(facts: Facts, limits: Mapping[str, Any], scope: Scope) -> Iterator[Finding]:
    for fault in faulty_bodies(facts, scope, lambda body: body.back_to_back):
        if fault.total <= limits["allowed"]:
            continue
        yield Finding(
            check="back-to-back-triangles",
            level="",
            message=f"{fault.where}: {count(fault.total, 'triangle')} back to back with another one",
            place=fault.place,
            measured=fault.total,
            wanted=limits["allowed"],
            unit="triangles",
            shown=Shown(faces=faces_of(facts, scope, "back_to_back", fault.place)),
            help="delete the backs and make the material double-sided, or part the two sides by a little thickness",
        )


CHECK = Check(
    name="back-to-back-triangles",
    group="mesh",
    stage=41,
    needs=frozenset({"files", "meshes", "topology"}),
    looks_at="triangles of one mesh that use the three positions of another one and face the other way",
    why="where both sides are drawn they fight for the same depth, and the sheet costs twice",
    put_right="use a double-sided material, or give the sheet thickness",
    blind_spots="sheets modelled twice on purpose, such as sails and leaves, are told alike",
    limits=(
        Limit("allowed", "integer", 0, "triangles", "backs in all that still pass; common practice, no source", low=0),
    ),
    scope=BODY_SCOPE,
    run=run,
)
