"""Collision meshes that are no closed body."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

import numpy as np

from tidegate.model.check import Check, Scope
from tidegate.model.facts import Facts
from tidegate.model.faulty import bodies_in, named, place_of
from tidegate.model.finding import Finding
from tidegate.model.selection import COLLISION
from tidegate.model.wording import count, one_of


def run(facts: Facts, limits: Mapping[str, Any], scope: Scope) -> Iterator[Finding]:
    for body in bodies_in(facts, scope, collision=True):
        if body.role != COLLISION:
            continue
        closed = body.pieces.closed
        if bool(closed.all()):
            inwards = int(np.count_nonzero(body.pieces.volume < 0.0))
            if inwards:
                yield Finding(
                    check="collision-open",
                    level="",
                    message=f"collision {named(body)}: {count(inwards, 'part')} of {len(closed):,} inside out",
                    place=place_of(body),
                    measured=inwards,
                    wanted=0,
                    unit="parts",
                    help="turn the faces round so that their fronts face outwards",
                )
            continue
        faults = [
            count(spots.total, f"{word} edge")
            for spots, word in ((body.open, "open"), (body.crowded, "crowded"), (body.turned, "turned"))
            if spots.total
        ]
        point = next(spots.point for spots in (body.open, body.crowded, body.turned) if spots.total)
        yield Finding(
            check="collision-open",
            level="",
            message=(
                f"collision {named(body)}: {count(int(np.count_nonzero(~closed)), 'part')} of {len(closed):,} not closed "
                f"({one_of(faults, 'and')})"
            ),
            place=place_of(body, point),
            measured=int(np.count_nonzero(~closed)),
            wanted=0,
            unit="parts",
            help="close the holes, so that every part of the collision mesh encloses a space",
        )


CHECK = Check(
    name="collision-open",
    group="levels of detail and collision",
    stage=44,
    needs=frozenset({"files", "meshes", "topology"}),
    looks_at="whether every part of a collision mesh is a closed surface with its fronts outwards",
    why="things fall through a hole, and what stands inside cannot be told from what stands outside",
    put_right="build the collision mesh from closed boxes and hulls",
    blind_spots="parts that cut through each other, and a collision mesh that is closed and far from the model's shape",
    scope=frozenset({"mesh", "node"}),
    run=run,
)
