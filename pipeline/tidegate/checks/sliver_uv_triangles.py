"""Triangles that are all but lines on the map."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import replace
from typing import Any

from tidegate.model.check import Check, Limit, Scope
from tidegate.model.facts import Facts
from tidegate.model.finding import Finding
from tidegate.model.selection import ISLAND_SCOPE, box_around, island_place, painted_in, picture_name
from tidegate.model.wording import count, number, numbered, rounded


def run(facts: Facts, limits: Mapping[str, Any], scope: Scope) -> Iterator[Finding]:
    columns = facts.islands
    for picture, rows in painted_in(facts, scope):
        assert columns is not None and facts.unfolding is not None
        thin = facts.unfolding.slivers(limits["thinnest"])
        whole = float(columns.world_area[rows].sum())
        share = round(float(thin.surface[rows].sum()) / whole, 6) if whole > 0 else 0.0
        if share <= limits["share"]:
            continue
        bad = rows[thin.triangles[rows] > 0]
        yield Finding(
            check="sliver-uv-triangles",
            level="",
            message=(
                f"{count(int(thin.triangles[bad].sum()), 'triangle')} thinner than 1 to "
                f"{number(1 / limits['thinnest'])} on {picture_name(picture)}, in {count(len(bad), 'island')}: "
                f"{numbered((bad + 1).tolist())}; {number(share * 100, 3)} % of the surface"
            ),
            place=replace(island_place(facts, picture, bad), uv_box=box_around(thin.box[bad])),
            measured=rounded(share),
            wanted=limits["share"],
            unit="share",
            help="lay these faces out wider, or join them with their neighbours in the mesh",
        )


CHECK = Check(
    name="sliver-uv-triangles",
    group="UV layout",
    stage=62,
    needs=frozenset({"files", "meshes", "headers", "islands", "unfolding"}),
    looks_at="the height of each triangle over its longest side, in texels, and the share of the surface on thin ones",
    why="a triangle narrower than a texel catches no texel of its own: it shows its neighbours' paint, and it flickers",
    put_right="give the faces width in the tile; where the mesh itself is that thin, the mesh is what to mend",
    blind_spots="long thin triangles that are right, such as those of a rope cut in few segments, look the same",
    limits=(
        Limit(
            "thinnest",
            "number",
            0.01,
            "share",
            "height over longest side below which a triangle is a sliver; common practice, no source",
            low=1e-6,
            high=0.5,
        ),
        Limit("share", "number", 0.0, "share", "of the map's surface that may lie on such triangles", low=0, high=1),
    ),
    level="note",
    scope=ISLAND_SCOPE,
    run=run,
)
