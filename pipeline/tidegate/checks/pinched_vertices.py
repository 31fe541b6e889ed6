"""Vertices in which surfaces touch without sharing an edge."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from tidegate.model.check import Check, Limit, Scope
from tidegate.model.facts import Facts
from tidegate.model.faulty import BODY_SCOPE, faulty_bodies
from tidegate.model.finding import Finding
from tidegate.model.wording import count


def run(facts: Facts, limits: Mapping[str, Any], scope: Scope) -> Iterator[Finding]:
    for fault in faulty_bodies(facts, scope, lambda body: body.pinched):
        if fault.total <= limits["allowed"]:
            continue
        yield Finding(
            check="pinched-vertices",
            level="",
            message=f"{fault.where}: {count(fault.total, 'vertex', 'vertices')} where surfaces touch in one point only",
            place=fault.place,
            measured=fault.total,
            wanted=limits["allowed"],
            unit="vertices",
            help="move the points apart, or join the surfaces along an edge",
        )


CHECK = Check(
    name="pinched-vertices",
    group="mesh",
    stage=41,
    needs=frozenset({"files", "meshes", "topology"}),
    looks_at="positions around which the triangles form more than one fan",
    why="a surface that hangs together by a point tears when it is smoothed, reduced or bent",
    put_right="part the surfaces, or join them along an edge",
    blind_spots="separate parts whose corners meet are told too; nobody can see from positions whether that was meant",
    limits=(
        Limit(
            "allowed", "integer", 0, "vertices", "such points in all that still pass; common practice, no source", low=0
        ),
    ),
    scope=BODY_SCOPE,
    run=run,
)
