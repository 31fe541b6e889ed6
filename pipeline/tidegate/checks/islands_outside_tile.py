"""Islands that leave the tile they may lie in."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

import numpy as np

from tidegate.model.check import Check, Limit, Scope
from tidegate.model.facts import Facts
from tidegate.model.finding import Finding
from tidegate.model.selection import ISLAND_SCOPE, island_place, painted_in, picture_name
from tidegate.model.wording import count, numbered


def run(facts: Facts, limits: Mapping[str, Any], scope: Scope) -> Iterator[Finding]:
    columns = facts.islands
    if limits["repeat"]:
        return
    tiles = np.array([int(t) for t in limits["tiles"]])
    for picture, rows in painted_in(facts, scope):
        assert columns is not None
        crossing = ~columns.inside[rows]
        misplaced = ~np.isin(columns.tile[rows], tiles) & ~crossing
        for bad, says in (
            (crossing, "across or beyond the border of a tile"),
            (misplaced, "in a tile that is not allowed"),
        ):
            if not bad.any():
                continue
            out = rows[bad]
            yield Finding(
                check="islands-outside-tile",
                level="",
                message=(
                    f"{count(len(out), 'island')} of {len(rows)} {says} on {picture_name(picture)}: "
                    f"{numbered((out + 1).tolist())}"
                ),
                place=island_place(facts, picture, out),
                measured=", ".join(str(t) for t in sorted(set(columns.tile[out].tolist()))[:8]),
                wanted=", ".join(str(t) for t in tiles.tolist()),
                unit="UDIM",
                help="move the islands into the tile, or allow repeat by rule where the map is meant to tile",
            )


CHECK = Check(
    name="islands-outside-tile",
    group="UV layout",
    stage=60,
    needs=frozenset({"files", "meshes", "headers", "islands"}),
    looks_at="the UV box of every island against the borders of its tile and the list of allowed tiles (UDIM numbers)",
    why="what lies outside repeats the map from the other side, or shows nothing",
    put_right="move or scale the island into the tile",
    blind_spots="nothing known",
    limits=(
        Limit("tiles", "numbers", [1001], "UDIM", "allowed tiles, 1001 is the first"),
        Limit("repeat", "boolean", False, "", "islands may leave the tile, because the map is made to repeat"),
    ),
    scope=ISLAND_SCOPE,
    run=run,
)
