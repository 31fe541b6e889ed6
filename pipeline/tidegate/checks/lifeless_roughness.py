"""Roughness that never varies, or was cut off at an end of its range."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from tidegate.model.check import Check, Limit, Scope
from tidegate.model.facts import Facts
from tidegate.model.finding import Finding
from tidegate.model.map_uses import map_place, maps_in
from tidegate.model.selection import MAP_SCOPE
from tidegate.model.wording import number, rounded


def run(facts: Facts, limits: Mapping[str, Any], scope: Scope) -> Iterator[Finding]:
    measured = {one.map: one.roughness for one in facts.pixels if one.roughness is not None}
    for texture in maps_in(facts, scope):
        found = measured.get(texture.path)
        if found is None or max(texture.header.width, texture.header.height) <= limits["swatch"]:
            continue
        if found.constant:
            yield Finding(
                check="lifeless-roughness",
                level="",
                message=f"the roughness in {texture.path} is the same everywhere",
                place=map_place(texture, "roughness"),
                measured=rounded(found.spread, 3),
                wanted="some variation",
                help="paint wear and dust into it, or drop the map and use a factor of the material",
            )
        elif found.piled_up > limits["clipped_share"]:
            end = "0" if found.at_zero >= found.at_one else "1"
            yield Finding(
                check="lifeless-roughness",
                level="",
                message=f"{number(100 * found.piled_up, 3)} % of the roughness in {texture.path} is cut off at {end}",
                place=map_place(texture, "roughness"),
                measured=rounded(found.piled_up, 4),
                wanted=limits["clipped_share"],
                unit="share",
                help="keep the values off both ends when levels are set",
            )


CHECK = Check(
    name="lifeless-roughness",
    group="what the maps show",
    stage=82,
    needs=frozenset({"files", "headers", "pixels"}),
    looks_at="spread of roughness, and how much of it stands at exactly 0 or 1, inside the islands where the layout is known",
    why="one roughness all over makes every surface look like the same plastic; clipped values lose their detail for good",
    put_right="vary the roughness by what the surface went through",
    blind_spots="new plastic is that even; glass may be painted at 0 by right",
    limits=(
        Limit(
            "clipped_share",
            "number",
            0.25,
            "share",
            "texels cut off at most; common practice, no source",
            low=0,
            high=1,
        ),
        Limit(
            "swatch",
            "integer",
            16,
            "texels",
            "longer side up to which an even map is taken for a swatch that is meant; common practice, no source",
            low=0,
        ),
    ),
    level="note",
    scope=MAP_SCOPE,
    run=run,
)
