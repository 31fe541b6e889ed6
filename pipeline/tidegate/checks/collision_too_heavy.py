"""Collision meshes with more triangles than a collision test should pay for."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from tidegate.model.check import Check, Limit, Scope
from tidegate.model.facts import Facts
from tidegate.model.finding import Finding, Place
from tidegate.model.selection import COLLISION


def run(facts: Facts, limits: Mapping[str, Any], scope: Scope) -> Iterator[Finding]:
    parts = [p for p in facts.parts if p.role == COLLISION and scope.takes(mesh=p.mesh, node=p.node)]
    total = sum(part.triangles for part in parts)
    model = sum(part.triangles for part in facts.parts if part.role == "model")
    ordered = dict(facts.order.triangles).get(COLLISION) if facts.order else None
    most = limits["most"]
    if ordered is not None:  # an order is told by the budget check
        most = None
    if most is not None and total > most:
        yield Finding(
            check="collision-too-heavy",
            level="",
            message=f"the collision mesh has {total:,} triangles, allowed are {most:,}",
            place=Place(file=parts[0].file, role=COLLISION),
            measured=total,
            wanted=most,
            unit="triangles",
            help="build it from a few boxes and hulls",
        )
    share = limits["share"]
    if model and total > share * model and total > limits["always"]:
        yield Finding(
            check="collision-too-heavy",
            level="",
            message=f"the collision mesh has {total:,} triangles, the model has {model:,}",
            place=Place(file=parts[0].file, role=COLLISION),
            measured=round(total / model, 4),
            wanted=share,
            unit="share",
            help="build it from a few boxes and hulls; a copy of the model is no collision mesh",
        )


CHECK = Check(
    name="collision-too-heavy",
    group="levels of detail and collision",
    stage=44,
    needs=frozenset({"files", "meshes"}),
    looks_at="triangles of the collision mesh, in all and beside the model's",
    why="a collision mesh is tested against everything near it, many times a frame",
    put_right="build it anew from a few simple bodies",
    blind_spots="how well the simple bodies follow the model",
    limits=(
        Limit(
            "most", "integer", 500, "triangles", "at most, where the order says none; common practice, no source", low=1
        ),
        Limit("share", "number", 0.5, "share", "of the model's triangles at most; common practice, no source", low=0),
        Limit(
            "always",
            "integer",
            64,
            "triangles",
            "that many pass beside any model, since a small model is its own best hull; common practice, no source",
            low=0,
        ),
    ),
    scope=frozenset({"mesh", "node"}),
    run=run,
)
