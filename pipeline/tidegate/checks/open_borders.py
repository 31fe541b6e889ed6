"""Surfaces that end: edges with one triangle only."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from tidegate.model.check import Check, Limit, Scope
from tidegate.model.facts import Facts
from tidegate.model.faulty import BODY_SCOPE, faulty_bodies
from tidegate.model.finding import Finding
from tidegate.model.wording import count


def run(facts: Facts, limits: Mapping[str, Any], scope: Scope) -> Iterator[Finding]:
    for fault in faulty_bodies(facts, scope, lambda body: body.open):
        if fault.total <= limits["allowed"]:
            continue
        yield Finding(
            check="open-borders",
            level="",
            message=f"{fault.where}: {count(fault.total, 'edge')} with one triangle only, so the surface has holes or ends",
            place=fault.place,
            measured=fault.total,
            wanted=limits["allowed"],
            unit="edges",
            help="close the hole, or weld the vertices along the border; leave it where the back is never seen",
        )


CHECK = Check(
    name="open-borders",
    group="mesh",
    stage=41,
    needs=frozenset({"files", "meshes", "topology"}),
    looks_at="edges of each mesh that one triangle alone uses, over positions that agree to the last bit and over all materials",
    why="a hole shows the background from the wrong side, and casts no shadow there",
    put_right="fill the hole or weld its border; give sheets that end on purpose a rule of their own",
    blind_spots="borders that lie on each other without agreeing to the last bit are told as open, though no eye sees them",
    limits=(Limit("allowed", "integer", 0, "edges", "open edges in all that still pass", low=0),),
    scope=BODY_SCOPE,
    run=run,
)
