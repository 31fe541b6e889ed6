"""A height map with too few steps."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from tidegate.model.check import Check, Limit, Scope
from tidegate.model.facts import Facts
from tidegate.model.finding import Finding
from tidegate.model.map_uses import map_place, maps_in
from tidegate.model.selection import MAP_SCOPE
from tidegate.model.wording import count


def run(facts: Facts, limits: Mapping[str, Any], scope: Scope) -> Iterator[Finding]:
    measured = {one.map: one.height for one in facts.pixels if one.height is not None}
    for texture in maps_in(facts, scope):
        found = measured.get(texture.path)
        if found is None or found.distinct <= 1:
            continue
        if found.eight_bit_inside:
            says = f"has 16 bits and only the {count(found.distinct, 'step')} of an 8-bit map"
        elif found.distinct < limits["least_steps"]:
            says = f"has {count(found.distinct, 'step')} of height"
        else:
            continue
        yield Finding(
            check="coarse-height",
            level="",
            message=f"{texture.path} {says}",
            place=map_place(texture, "height"),
            measured=found.distinct,
            wanted=limits["least_steps"],
            unit="steps",
            help="bake or export it in 16 bits from the source; converting the 8-bit map adds no steps",
        )


CHECK = Check(
    name="coarse-height",
    group="what the maps show",
    stage=81,
    needs=frozenset({"files", "headers", "pixels"}),
    looks_at="how many different heights a height map holds, and whether a 16-bit one was blown up from 8 bits",
    why="few steps show as terraces as soon as the surface is displaced or lit from the side",
    put_right="bake the height in 16 bits",
    blind_spots="a stepped thing, such as a stair, has few heights by right",
    limits=(
        Limit("least_steps", "integer", 64, "steps", "different heights at least; common practice, no source", low=2),
    ),
    level="note",
    scope=MAP_SCOPE,
    run=run,
)
