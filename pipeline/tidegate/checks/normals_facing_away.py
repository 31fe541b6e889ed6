"""Vertex normals that point behind the face they shade."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from tidegate.model.check import Check, Limit, Scope
from tidegate.model.facts import Facts
from tidegate.model.faulty import faulty_parts
from tidegate.model.finding import Finding, Shown
from tidegate.model.selection import PART_SCOPE, parts_in
from tidegate.model.wording import count, number, rounded


def run(facts: Facts, limits: Mapping[str, Any], scope: Scope) -> Iterator[Finding]:
    totals: dict[Any, int] = {}
    leaning: dict[Any, int] = {}
    for index, part in parts_in(facts, scope):
        spots = facts.shading[index].leaning(limits["degrees"])
        for key in (_mesh(part), _file(part)):
            totals[key] = totals.get(key, 0) + part.triangles
            leaning[key] = leaning.get(key, 0) + spots.total
    # Meshes whose normals were turned as a whole are told by themselves, however small a part of the file they are.
    whole = {key for key in totals if leaning[key] > limits["mild_share"] * totals[key]}
    for turned in (True, False):
        chosen = [(index, part) for index, part in parts_in(facts, scope) if (_mesh(part) in whole) is turned]
        for fault in faulty_parts(facts, chosen, lambda shading: shading.leaning(limits["degrees"])):
            parts = [(index, part) for index, part in chosen if _file(part) == (fault.place.file, fault.place.role)]
            over = sum(part.triangles for _, part in parts) if turned else totals[fault.place.file, fault.place.role]
            if fault.total <= limits["share"] * over:
                continue
            share = fault.total / over
            yield Finding(
                check="normals-facing-away",
                level="" if turned else "note",
                message=(
                    f"{fault.where}: {count(fault.total, 'triangle')} ({number(100 * share, 3)} %) with a normal that leans "
                    f"away by more than {number(limits['degrees'])} degrees"
                ),
                place=fault.place,
                measured=rounded(share),
                wanted=limits["share"],
                unit="share",
                shown=Shown(
                    faces=tuple(
                        run
                        for index, _ in parts
                        for run in facts.shading[index].leaning_faces(limits["degrees"], index)
                    )
                ),
                help=(
                    "recalculate the normals of these meshes: they were turned or lost as a whole"
                    if turned
                    else "recalculate the normals there; a flipped face or a smoothing over a sharp edge is the usual reason"
                ),
            )


def _file(part: Any) -> tuple[str, str]:
    return part.file, part.role


def _mesh(part: Any) -> tuple[str, str, str, str]:
    return part.file, part.role, part.node, part.mesh


CHECK = Check(
    name="normals-facing-away",
    group="normals and tangents",
    stage=46,
    needs=frozenset({"files", "meshes", "shading"}),
    looks_at="the angle between each face and the normals at its corners",
    why="where a normal points behind its face, light falls in from the wrong side",
    put_right="turn the face round, or recalculate the normals",
    blind_spots="normals bent on purpose, as on leaves and grass, lean too; ask for it with a share of their own",
    limits=(
        Limit("degrees", "number", 90.0, "degrees", "how far a normal may lean away from its face", low=0, high=180),
        Limit("share", "number", 0.02, "share", "of the triangles that may; common practice, no source", low=0),
        Limit(
            "mild_share",
            "number",
            0.5,
            "share",
            "of the triangles of a mesh up to which it is a note at most; beyond, its normals as a whole were turned or lost; "
            "common practice, no source",
            low=0,
        ),
    ),
    scope=PART_SCOPE,
    run=run,
)
