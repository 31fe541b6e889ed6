"""Maps of which too little is used."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from tidegate.model.check import Check, Limit, Scope
from tidegate.model.facts import Facts
from tidegate.model.finding import Finding
from tidegate.model.selection import ISLAND_SCOPE, island_place, painted_in, picture_name
from tidegate.model.wording import number, rounded


def run(facts: Facts, limits: Mapping[str, Any], scope: Scope) -> Iterator[Finding]:
    columns = facts.islands
    covered = {id(c.picture): c for c in facts.coverage}
    for picture, rows in painted_in(facts, scope):
        assert columns is not None
        # Where islands leave the tile the map is made to repeat; how much of it they use says nothing then.
        if picture.assumed or picture.role != "model" or not columns.inside[picture.islands].all():
            continue
        share = round(covered[id(picture)].share, 6)
        if share >= limits["least"]:
            continue
        yield Finding(
            check="map-space-wasted",
            level="",
            message=(
                f"islands cover {number(share * 100, 3)} % of {picture_name(picture)}, less than "
                f"{number(limits['least'] * 100, 3)} %"
            ),
            place=island_place(facts, picture, rows),
            measured=rounded(share),
            wanted=limits["least"],
            unit="share",
            help="pack the islands closer and larger, or halve the map; a map that other props share may be used in part",
        )


CHECK = Check(
    name="map-space-wasted",
    group="UV layout",
    stage=65,
    needs=frozenset({"files", "meshes", "headers", "islands", "coverage"}),
    looks_at="the share of a map's texels that islands cover; islands on top of each other count once",
    why="texels that nothing shows cost memory as much as those that are seen",
    put_right="pack tighter, scale up to the wanted density, or take a smaller map",
    blind_spots="a map that several props share looks wasted on each of them",
    limits=(
        Limit(
            "least",
            "number",
            0.25,
            "share",
            "of the map's texels covered at least; common practice, no source",
            low=0,
            high=1,
        ),
    ),
    level="note",
    scope=ISLAND_SCOPE,
    run=run,
)
