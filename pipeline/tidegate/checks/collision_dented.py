"""Collision meshes whose parts are not convex."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

import numpy as np

from tidegate.model.check import Check, Limit, Scope
from tidegate.model.facts import Facts
from tidegate.model.faulty import bodies_in, named, place_of
from tidegate.model.finding import Finding
from tidegate.model.selection import COLLISION
from tidegate.model.wording import count, length, rounded


def run(facts: Facts, limits: Mapping[str, Any], scope: Scope) -> Iterator[Finding]:
    for body in bodies_in(facts, scope, collision=True):
        if body.role != COLLISION:
            continue
        pieces = body.pieces
        told = pieces.closed & (pieces.volume > 0.0)  # the others have no inside to be dented from
        dented = np.flatnonzero(told & (pieces.dent > limits["share"] * pieces.diagonal))
        if not len(dented):
            continue
        worst = dented[np.argmax(pieces.dent[dented])]
        x, y, z = ((pieces.low[worst] + pieces.high[worst]) / 2.0).round(6).tolist()
        yield Finding(
            check="collision-dented",
            level="",
            message=(
                f"collision {named(body)}: {count(len(dented), 'part')} of {len(pieces):,} not convex, dented by up to "
                f"{length(float(pieces.dent[worst]))}"
            ),
            place=place_of(body, (x, y, z)),
            measured=rounded(float(pieces.dent[worst])),
            wanted=rounded(float(limits["share"] * pieces.diagonal[worst])),
            unit="m",
            help="cut the part into convex ones, or put its hull in its place",
        )


CHECK = Check(
    name="collision-dented",
    group="levels of detail and collision",
    stage=44,
    needs=frozenset({"files", "meshes", "topology"}),
    looks_at="how far a face's neighbour stands in front of it, on every closed part of a collision mesh",
    why="convex parts are tested many times faster, and most solvers take a dented one for its hull",
    put_right="cut it into convex parts",
    blind_spots="parts that are open or inside out are told elsewhere and not measured here",
    limits=(
        Limit(
            "share",
            "number",
            0.001,
            "share",
            "of a part's diagonal that a dent may be deep; common practice, no source",
            low=0,
        ),
    ),
    scope=frozenset({"mesh", "node"}),
    run=run,
)
