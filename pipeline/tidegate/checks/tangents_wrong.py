"""Tangents that are no unit vectors, or whose sign contradicts the layout."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from tidegate.model.check import Check, Limit, Scope
from tidegate.model.facts import Facts
from tidegate.model.faulty import faulty_parts
from tidegate.model.finding import Finding
from tidegate.model.selection import PART_SCOPE, parts_in
from tidegate.model.wording import count, number, rounded


def run(facts: Facts, limits: Mapping[str, Any], scope: Scope) -> Iterator[Finding]:
    parts = [(i, part) for i, part in parts_in(facts, scope) if facts.shading[i].tangents]
    for fault in faulty_parts(facts, parts, lambda shading: shading.tangents_off):
        yield Finding(
            check="tangents-wrong",
            level="",
            message=f"{fault.where}: {count(fault.total, 'tangent')} not of unit length, or with a sign other than +1 or -1",
            place=fault.place,
            measured=fault.total,
            wanted=0,
            unit="tangents",
            help="let the exporter compute the tangents anew",
        )
    totals: dict[tuple[str, str], int] = {}
    for _, part in parts:
        totals[part.file, part.role] = totals.get((part.file, part.role), 0) + part.triangles
    for fault in faulty_parts(facts, parts, lambda shading: shading.wrong_handed):
        share = fault.total / totals[fault.place.file, fault.place.role]
        if share <= limits["share"]:
            continue
        yield Finding(
            check="tangents-wrong",
            level="",
            message=(
                f"{fault.where}: the tangents of {count(fault.total, 'triangle')} ({number(100 * share, 3)} %) have the sign of "
                f"a layout mirrored the other way"
            ),
            place=fault.place,
            measured=rounded(share),
            wanted=limits["share"],
            unit="share",
            help="let the exporter compute the tangents from the final UVs; the relief is turned inside out otherwise",
        )


CHECK = Check(
    name="tangents-wrong",
    group="normals and tangents",
    stage=46,
    needs=frozenset({"files", "meshes", "shading"}),
    looks_at="length and sign of every tangent, the sign against the winding of the UVs that the normal map lies on",
    why="with the wrong sign dents become bumps (glTF 2.0, 3.7.2.1: w is +1 or -1 and turns the bitangent)",
    put_right="compute the tangents anew from the UVs as delivered",
    blind_spots="triangles whose corners disagree in sign are left out; a tangent of the right sign may still be turned",
    limits=(
        Limit(
            "share",
            "number",
            0.01,
            "share",
            "of the triangles whose sign may be wrong; common practice, no source",
            low=0,
        ),
    ),
    scope=PART_SCOPE,
    run=run,
)
