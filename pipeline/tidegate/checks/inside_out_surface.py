"""Closed parts whose fronts face inwards."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

import numpy as np

from tidegate.model.check import Check, Limit, Scope
from tidegate.model.facts import Facts
from tidegate.model.faulty import BODY_SCOPE, bodies_in, named, place_of
from tidegate.model.finding import Finding, Shown
from tidegate.model.wording import count, length


def run(facts: Facts, limits: Mapping[str, Any], scope: Scope) -> Iterator[Finding]:
    sided = {
        (mesh.path, material.name) for mesh in facts.prop.meshes for material in mesh.materials if material.double_sided
    }
    for body in bodies_in(facts, scope):
        if all((body.file, facts.parts[part].material) in sided for part in body.parts):
            continue
        pieces = body.pieces
        inwards = np.flatnonzero(pieces.inwards(limits["smallest_m"]))
        if not len(inwards):
            continue
        largest = inwards[np.argmax(pieces.diagonal[inwards])]
        middle = ((pieces.low[largest] + pieces.high[largest]) / 2.0).round(6).tolist()
        if len(pieces) == 1:
            what = f"{named(body)} is inside out: all fronts face inwards"
        else:
            what = (
                f"{named(body)}: {count(len(inwards), 'closed part')} of {len(pieces):,} inside out, the largest "
                f"{length(float(pieces.diagonal[largest]))} across"
            )
        yield Finding(
            check="inside-out-surface",
            level="",
            message=what,
            place=place_of(body, (middle[0], middle[1], middle[2])),
            measured=len(inwards),
            wanted=0,
            unit="parts",
            shown=Shown(faces=body.faces_of("inwards", limits["smallest_m"])),
            help="turn the faces of these parts round so that their fronts face outwards",
        )


CHECK = Check(
    name="inside-out-surface",
    group="mesh",
    stage=41,
    needs=frozenset({"files", "meshes", "topology"}),
    looks_at="the volume enclosed by each closed part: below zero when its fronts face inwards",
    why="where backs are not drawn, such a part shows its far inner side, and its light comes from the wrong side",
    put_right="turn all faces of the part round",
    blind_spots="parts that are open or turned in places have no inside to measure; a room meant to be seen from within "
    "is told too, unless its material is double-sided",
    limits=(
        Limit(
            "smallest_m",
            "number",
            0.0,
            "m",
            "parts shorter from corner to corner are let be; common practice, no source",
            low=0,
        ),
    ),
    scope=BODY_SCOPE,
    run=run,
)
