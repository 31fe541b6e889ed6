"""Surfaces that just miss being closed: a triangle left out, or borders that lie together without being welded."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from tidegate.model.check import Check, Limit, Scope
from tidegate.model.facts import Facts
from tidegate.model.faulty import BODY_SCOPE, faulty_bodies
from tidegate.model.finding import Finding
from tidegate.model.wording import count, length


def run(facts: Facts, limits: Mapping[str, Any], scope: Scope) -> Iterator[Finding]:
    for fault in faulty_bodies(facts, scope, lambda body: body.left_out):
        yield Finding(
            check="cracked-surface",
            level="",
            message=f"{fault.where}: {count(fault.total, 'hole')} as large as one triangle in a part that is closed otherwise",
            place=fault.place,
            measured=fault.total,
            wanted=0,
            unit="holes",
            help="fill the hole; a triangle was deleted or lost there",
        )
    reach = limits["reach_m"]
    for fault in faulty_bodies(facts, scope, lambda body: body.unwelded(reach)):
        yield Finding(
            check="cracked-surface",
            level="",
            message=(
                f"{fault.where}: {count(fault.total, 'edge')} where two borders lie within {length(reach)} of each "
                "other and are not welded"
            ),
            place=fault.place,
            measured=fault.total,
            wanted=0,
            unit="edges",
            help="merge the vertices along these borders by distance: light and shadow leak through the crack",
        )


CHECK = Check(
    name="cracked-surface",
    group="mesh",
    stage=41,
    needs=frozenset({"files", "meshes", "topology"}),
    looks_at=(
        "open edges of each mesh: three around a hole where one triangle is missing in a part that is closed otherwise, and "
        "such as lie along another open edge without sharing its ends"
    ),
    why="light and shadow leak through, and whatever smooths or thins the mesh out tears it open there",
    put_right="fill the hole, merge the vertices by distance",
    blind_spots=(
        "larger openings, which may be meant (`open-borders` tells all); borders farther apart than a tenth of their edges; "
        "front and back of one sheet that lie so close; borders whose points lie at other places along them"
    ),
    limits=(
        Limit(
            "reach_m",
            "number",
            0.001,
            "m",
            "two borders at most so far apart were meant to be one; common practice, no source",
            low=0,
        ),
    ),
    scope=BODY_SCOPE,
    run=run,
)
