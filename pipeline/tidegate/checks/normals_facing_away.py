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
    totals: dict[tuple[str, str], int] = {}
    for _, part in parts_in(facts, scope):
        totals[part.file, part.role] = totals.get((part.file, part.role), 0) + part.triangles
    for fault in faulty_parts(facts, parts_in(facts, scope), lambda shading: shading.leaning(limits["degrees"])):
        share = fault.total / totals[fault.place.file, fault.place.role]
        if share <= limits["share"]:
            continue
        faces = [
            run
            for index, part in parts_in(facts, scope)
            if (part.file, part.role) == (fault.place.file, fault.place.role)
            for run in facts.shading[index].leaning_faces(limits["degrees"], index)
        ]
        yield Finding(
            check="normals-facing-away",
            level="note" if share <= limits["mild_share"] else "",
            message=(
                f"{fault.where}: {count(fault.total, 'triangle')} ({number(100 * share, 3)} %) with a normal that leans "
                f"away by more than {number(limits['degrees'])} degrees"
            ),
            place=fault.place,
            measured=rounded(share),
            wanted=limits["share"],
            unit="share",
            shown=Shown(faces=tuple(faces)),
            help="recalculate the normals there; a flipped face or a smoothing over a sharp edge is the usual reason",
        )


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
            "of the triangles up to which it is a note at most; beyond, the normals as a whole were turned or lost; "
            "common practice, no source",
            low=0,
        ),
    ),
    scope=PART_SCOPE,
    run=run,
)
