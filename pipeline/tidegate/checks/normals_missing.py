"""Meshes without vertex normals, or with normals on some faces only."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from tidegate.model.check import Check, Scope
from tidegate.model.facts import Facts
from tidegate.model.faulty import named, place_of
from tidegate.model.finding import Finding
from tidegate.model.selection import PART_SCOPE, parts_in
from tidegate.model.wording import count


def run(facts: Facts, limits: Mapping[str, Any], scope: Scope) -> Iterator[Finding]:
    for index, part in parts_in(facts, scope):
        shading = facts.shading[index]
        if shading.normals and not shading.bare.total:
            continue
        bare = shading.bare.total if shading.normals else part.triangles
        yield Finding(
            check="normals-missing",
            level="",
            message=(
                f"{named(part)} has no vertex normals"
                if not shading.normals
                else f"{count(bare, 'triangle')} of {part.triangles:,} in {named(part)} without vertex normals"
            ),
            place=place_of(part, shading.bare.point),
            measured=bare,
            wanted=0,
            unit="triangles",
            help="export with normals, so that everyone sees the smoothing you saw",
        )


CHECK = Check(
    name="normals-missing",
    group="normals and tangents",
    stage=46,
    needs=frozenset({"files", "meshes", "shading"}),
    looks_at="whether every triangle that is seen has a normal at each corner",
    why="without normals each program shades as it pleases (glTF 2.0, 3.7.2.1: flat), and a normal map no longer fits",
    put_right="export with normals, smoothed as the prop was looked at",
    blind_spots="normals that are there and were computed anew on the way",
    scope=PART_SCOPE,
    run=run,
)
