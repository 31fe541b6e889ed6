"""Seams where the surface goes on smoothly."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import replace
from typing import Any

from tidegate.model.check import Check, Limit, Scope
from tidegate.model.facts import Facts
from tidegate.model.finding import Finding
from tidegate.model.selection import PART_SCOPE, parts_in, surface_place
from tidegate.model.wording import count, length, number, rounded


def run(facts: Facts, limits: Mapping[str, Any], scope: Scope) -> Iterator[Finding]:
    taken = dict(parts_in(facts, scope))
    for cuts in facts.cuts:
        parts = [taken[part] for part in cuts.parts if part in taken]
        if not parts or cuts.uv_layer != 0 or not cuts.shaded or not cuts.seam_length:
            continue
        edges, metres = cuts.smooth_and_cut(limits["degrees"])
        share = round(metres / cuts.seam_length, 6)
        if share <= limits["share"]:
            continue
        where, place = surface_place(parts, cuts.uv_layer)
        yield Finding(
            check="seams-on-smooth-edges",
            level="",
            message=(
                f"{number(share * 100, 3)} % of the seams of {where} run over smooth surface: "
                f"{count(edges.total, 'edge')}, {length(metres)} of {length(cuts.seam_length)}"
            ),
            place=replace(place, point=edges.point),
            measured=rounded(share),
            wanted=limits["share"],
            unit="share",
            help="move seams to hard edges and to where they are not looked at",
        )


CHECK = Check(
    name="seams-on-smooth-edges",
    group="UV layout",
    stage=65,
    needs=frozenset({"files", "meshes", "headers", "islands", "cuts"}),
    looks_at="the share of the seams of UV layer 0, by length, with equal vertex normals on both sides",
    why="paint has to meet over a seam on smooth surface, where nothing hides a mismatch",
    put_right="cut along hard edges, at the back and at the underside first",
    blind_spots=(
        "a round thing has to be cut somewhere smooth; files without vertex normals cannot be told, and edges where the map "
        "changes are no seams"
    ),
    limits=(
        Limit(
            "degrees",
            "number",
            5.0,
            "degrees",
            "between the normals of both sides up to which an edge is smooth; common practice, no source",
            low=0,
            high=180,
        ),
        Limit(
            "share",
            "number",
            0.5,
            "share",
            "of the seam length that may run over smooth surface; common practice, no source",
            low=0,
            high=1,
        ),
    ),
    level="note",
    scope=PART_SCOPE,
    run=run,
)
