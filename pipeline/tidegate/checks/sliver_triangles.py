"""Triangles far longer than they are high."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from tidegate.model.check import Check, Limit, Scope
from tidegate.model.facts import Facts
from tidegate.model.faulty import BODY_SCOPE, bodies_in, faulty_bodies
from tidegate.model.finding import Finding
from tidegate.model.wording import count, number, rounded


def run(facts: Facts, limits: Mapping[str, Any], scope: Scope) -> Iterator[Finding]:
    totals: dict[tuple[str, str], int] = {}
    for body in bodies_in(facts, scope):
        totals[body.file, body.role] = totals.get((body.file, body.role), 0) + body.triangles
    for fault in faulty_bodies(facts, scope, lambda body: body.slivers(limits["thinner_than"])):
        share = fault.total / totals[fault.place.file, fault.place.role]
        if share <= limits["share"]:
            continue
        yield Finding(
            check="sliver-triangles",
            level="",
            message=(
                f"{fault.where}: {count(fault.total, 'triangle')} ({number(100 * share, 3)} %) lower than "
                f"{number(limits['thinner_than'])} of their longest side"
            ),
            place=fault.place,
            measured=rounded(share),
            wanted=limits["share"],
            unit="share",
            help="cut long strips across, or spread the points of a round end more evenly",
        )


CHECK = Check(
    name="sliver-triangles",
    group="mesh",
    stage=42,
    needs=frozenset({"files", "meshes", "topology"}),
    looks_at="the height of each triangle over its longest side, and what share of the triangles is thinner than wanted",
    why="slivers shade unevenly, shimmer at a distance, and cost more to draw than they cover",
    put_right="cut strips across, or even out the spacing of the points",
    blind_spots="long planks and ropes are thin by nature; whether that shows, a look alone tells",
    limits=(
        Limit(
            "thinner_than",
            "number",
            0.01,
            "ratio",
            "height over longest side; 0.866 for equal sides; common practice, no source",
            low=0,
            high=0.1,
        ),
        Limit(
            "share", "number", 0.05, "share", "of the triangles that may be so thin; common practice, no source", low=0
        ),
    ),
    scope=BODY_SCOPE,
    run=run,
)
