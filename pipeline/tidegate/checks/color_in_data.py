"""Color in a map that should be grey."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from tidegate.model.check import Check, Limit, Scope
from tidegate.model.facts import Facts
from tidegate.model.finding import Finding
from tidegate.model.map_uses import DATA, lone_slot, map_place, maps_in
from tidegate.model.selection import MAP_SCOPE
from tidegate.model.wording import number, rounded


def run(facts: Facts, limits: Mapping[str, Any], scope: Scope) -> Iterator[Finding]:
    measured = {one.map: one.grey for one in facts.pixels if one.grey is not None}
    for texture in maps_in(facts, scope):
        found = measured.get(texture.path)
        slot = lone_slot(facts.prop, texture, DATA)
        if found is None or not slot or found.colored <= limits["share"]:
            continue
        yield Finding(
            check="color-in-data",
            level="",
            message=(
                f"{number(100 * found.colored, 3)} % of {texture.path} shows color, up to {found.widest} codes, where "
                f"{slot.replace('_', ' ')} wants grey"
            ),
            place=map_place(texture, slot, found.box),
            measured=rounded(found.colored, 4),
            wanted=limits["share"],
            unit="share",
            help="check that the right picture lies in this slot; if several maps are packed into it, name it as packed",
        )


CHECK = Check(
    name="color-in-data",
    group="what the maps show",
    stage=81,
    needs=frozenset({"files", "headers", "pixels"}),
    looks_at="texels whose red, green and blue lie more than 8 codes of 255 apart in a map that serves one data slot",
    why="only one channel is read, so color there is another map put into the wrong slot, or a packed one under a plain name",
    put_right="put the right map there, or name the packed map for all its slots",
    blind_spots="grey data of the wrong kind looks right",
    limits=(
        Limit("share", "number", 0.01, "share", "texels with color at most; common practice, no source", low=0, high=1),
    ),
    level="warning",
    scope=MAP_SCOPE,
    run=run,
)
