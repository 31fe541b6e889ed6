"""Layouts in more pieces, or with more seam, than their surface asks for."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
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
        if not parts or not scope.takes(uv_layer=cuts.uv_layer):
            continue
        where, place = surface_place(parts, cuts.uv_layer)
        most = limits["islands"]
        if most is not None and cuts.islands > most:
            yield Finding(
                check="surface-cut-too-much",
                level="",
                message=f"{where} is laid out in {count(cuts.islands, 'island')}, {most:,} at most",
                place=place,
                measured=cuts.islands,
                wanted=most,
                unit="islands",
                help="join islands along edges where paint goes on; every seam is one more place to paint over",
            )
        most = limits["seam_to_size"]
        if most is not None and cuts.surface > 0:
            ratio = rounded(cuts.seam_length / cuts.surface**0.5)
            if ratio > most:
                yield Finding(
                    check="surface-cut-too-much",
                    level="",
                    message=(
                        f"{where} has {length(cuts.seam_length)} of seams on {number(cuts.surface, 3)} square metres: "
                        f"{number(ratio, 3)} times the side of a square of that surface, {number(most, 3)} at most"
                    ),
                    place=place,
                    measured=ratio,
                    wanted=most,
                    unit="times",
                    help="join islands along edges where paint goes on, and cut where the surface bends sharply",
                )


CHECK = Check(
    name="surface-cut-too-much",
    group="UV layout",
    stage=65,
    needs=frozenset({"files", "meshes", "headers", "islands", "cuts"}),
    looks_at=(
        "how many islands a mesh is laid out in, materials that share a map taken together, and how long its seams are "
        "against its surface"
    ),
    why="each seam is a place where paint has to meet, and small pieces waste the room between them",
    put_right="join islands that bend little against each other",
    blind_spots="edges where the map changes with the material are cut in any layout and are not counted",
    limits=(
        Limit("islands", "integer", None, "islands", "of one mesh on one map at most", low=1),
        Limit(
            "seam_to_size", "number", None, "times", "seam length over the square root of the surface at most", low=0
        ),
    ),
    level="note",
    scope=PART_SCOPE | {"uv_layer"},
    run=run,
)
