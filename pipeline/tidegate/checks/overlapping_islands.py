"""Texels that two places of the surface share by accident."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

import numpy as np

from tidegate.model.check import Check, Limit, Scope
from tidegate.model.facts import Facts
from tidegate.model.finding import Finding
from tidegate.model.selection import ISLAND_SCOPE, island_place, islands_in, picture_name
from tidegate.model.wording import count, numbers


def run(facts: Facts, limits: Mapping[str, Any], scope: Scope) -> Iterator[Finding]:
    covered = {id(c.picture): c for c in facts.coverage}
    for picture, rows in islands_in(facts, scope):
        cover = covered.get(id(picture))
        if cover is None:
            continue
        for group in cover.overlaps:
            islands = np.array(group.islands, dtype=np.int64)
            if not np.isin(islands, rows).any() or group.texels <= limits["allowed_texels"]:
                continue
            if group.stack and limits["allow_stacks"]:
                continue
            what = "lie exactly on each other" if group.stack else "overlap"
            if len(islands) == 1:
                what = "overlaps itself"
            yield Finding(
                check="overlapping-islands",
                level="",
                message=(
                    f"{count(len(islands), 'island')} {what} on {picture_name(picture)}: "
                    f"{numbers((islands + 1).tolist())}; {count(group.texels, 'texel')} shared"
                ),
                place=island_place(facts, picture, islands),
                measured=group.texels,
                wanted=limits["allowed_texels"],
                unit="texels",
                help="move them apart"
                if not group.stack
                else "move them apart, or allow stacks by rule where the same paint is meant for all of them",
            )


CHECK = Check(
    name="overlapping-islands",
    stage=61,
    needs=frozenset({"files", "meshes", "headers", "islands", "coverage"}),
    looks_at="texels covered more than once, at the size of the map, by islands of one picture",
    why="what is painted for one face shows up on another, and baked light is spoiled",
    put_right="move the islands apart; stack on purpose only whole islands that fit each other exactly",
    blind_spots="an overlap thinner than a texel, which no texel centre sees",
    limits=(
        Limit("allowed_texels", "integer", 0, "texels", "shared texels of a group that are still let pass", low=0),
        Limit("allow_stacks", "boolean", False, "", "islands that lie exactly on each other are meant so"),
    ),
    scope=ISLAND_SCOPE,
    run=run,
)
