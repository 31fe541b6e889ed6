"""Islands whose texels are longer one way than the other."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

import numpy as np

from tidegate.model.check import Check, Limit, Scope
from tidegate.model.facts import Facts
from tidegate.model.finding import Finding
from tidegate.model.selection import ISLAND_SCOPE, island_place, islands_in, picture_name
from tidegate.model.wording import count, number, numbers, rounded


def run(facts: Facts, limits: Mapping[str, Any], scope: Scope) -> Iterator[Finding]:
    columns = facts.islands
    for picture, rows in islands_in(facts, scope):
        assert columns is not None
        ratio = columns.stretch_ratio[rows]
        bad = np.isfinite(ratio) & (ratio > limits["largest_ratio"])
        surface = columns.world_area[rows]
        share = float(surface[bad].sum() / surface.sum()) if surface.sum() > 0 else 0.0
        if not bad.any() or share <= limits["share"]:
            continue
        worst = int(np.argmax(np.where(bad, ratio, -1.0)))
        yield Finding(
            check="stretched-islands",
            level="",
            message=(
                f"{count(int(bad.sum()), 'island')} stretched over {number(limits['largest_ratio'])} to 1 on "
                f"{picture_name(picture)}: {numbers((rows[bad] + 1).tolist())}; island {rows[worst] + 1} "
                f"{number(float(ratio[worst]), 3)} to 1, {number(share * 100, 3)} % of the surface"
            ),
            place=island_place(facts, picture, rows[bad]),
            measured=rounded(float(ratio[worst])),
            wanted=limits["largest_ratio"],
            unit="ratio",
            help="relax the island or cut it where it bends; the heat map of stretch shows where it pulls",
        )


CHECK = Check(
    name="stretched-islands",
    stage=62,
    needs=frozenset({"files", "meshes", "headers", "islands"}),
    looks_at="longest over shortest side of a texel on the surface, area-weighted an island, in texels of the map",
    why="a stretched island smears what is painted on it, and no amount of texels mends that",
    put_right="cut the island further or relax it; on a map that is not square, scale the layout to the map's ratio",
    blind_spots="a short, hard pull inside a large good island counts little in the island's mean",
    limits=(
        Limit("largest_ratio", "number", 1.5, "ratio", "longest over shortest; common practice, no source", low=1),
        Limit("share", "number", 0.0, "share", "share of the picture's surface that may exceed it", low=0, high=1),
    ),
    level="warning",
    scope=ISLAND_SCOPE,
    run=run,
)
