"""Triangles that lie the other way round than the rest of their island."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import replace
from typing import Any

import numpy as np

from tidegate.model.amounts import with_unit
from tidegate.model.check import Check, Limit, Scope
from tidegate.model.facts import Facts
from tidegate.model.finding import Finding
from tidegate.model.selection import ISLAND_SCOPE, box_around, island_place, painted_in, picture_name
from tidegate.model.wording import count, numbered

HALF = 0.4  # share of an island's surface from which on it was folded along its middle, and not by a slip


def run(facts: Facts, limits: Mapping[str, Any], scope: Scope) -> Iterator[Finding]:
    columns = facts.islands
    for picture, rows in painted_in(facts, scope):
        assert columns is not None and facts.unfolding is not None
        folded = facts.unfolding.folded(limits["least_texels"])
        total = int(folded.triangles[rows].sum())
        if total <= limits["allowed"]:
            continue
        bad = rows[folded.triangles[rows] > 0]
        most = int(bad[np.argmax(folded.triangles[bad])])
        whole = float(columns.world_area[most])
        half = whole > 0 and folded.surface[most] >= HALF * whole
        yield Finding(
            check="folded-triangles",
            level="",
            message=(
                f"{count(total, 'triangle')} folded over in {count(len(bad), 'island')} of {picture_name(picture)}: "
                f"{numbered((bad + 1).tolist())}; most in island {most + 1}, "
                f"{int(folded.triangles[most]):,} of {int(columns.triangles[most]):,}"
                + (", which lies folded in half" if half else "")
            ),
            place=replace(island_place(facts, picture, bad), uv_box=box_around(folded.box[bad])),
            measured=total,
            wanted=limits["allowed"],
            unit="triangles",
            help=(
                "cut the island along the fold: its halves are mirrored and then judged as islands of their own"
                if half
                else "unfold these triangles; the box shows where they lie, from "
                f"{with_unit(limits['least_texels'], 'texels')} on"
            ),
        )


CHECK = Check(
    name="folded-triangles",
    group="UV layout",
    stage=61,
    needs=frozenset({"files", "meshes", "headers", "islands", "unfolding"}),
    looks_at="triangles whose winding in the tile differs from that of the larger part of their island",
    why="a folded triangle lies over its neighbours: paint shows twice, once backwards, and normal maps light it wrongly",
    put_right="pull the corner that was pushed over its neighbours back, or cut the island and lay the piece out anew",
    blind_spots="an island that runs over itself without turning round, such as a coil, overlaps and is not folded",
    limits=(
        Limit("allowed", "integer", 0, "triangles", "folded triangles of one map that still pass", low=0),
        Limit(
            "least_texels",
            "number",
            1.0,
            "texels",
            "area from which on a folded triangle counts; smaller ones are seen by no one; common practice, no source",
            low=0,
        ),
    ),
    level="warning",
    scope=ISLAND_SCOPE,
    run=run,
)
