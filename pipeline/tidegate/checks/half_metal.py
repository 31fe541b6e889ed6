"""Metalness between metal and none over large areas."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from tidegate.model.check import Check, Limit, Scope
from tidegate.model.facts import Facts
from tidegate.model.finding import Finding
from tidegate.model.map_uses import map_place, maps_in
from tidegate.model.selection import MAP_SCOPE
from tidegate.model.wording import number, rounded
from tidegate.pixels.metalness import HIGH, LOW, metalness_use

OTHERS = ("base_color", "normal", "roughness", "occlusion", "emission", "opacity", "height")


def run(facts: Facts, limits: Mapping[str, Any], scope: Scope) -> Iterator[Finding]:
    named = {one.path: one.field("map") for one in facts.prop.readings if one.kind == "map"}
    measured = {one.map: one.metalness for one in facts.pixels if one.metalness is not None}
    for texture in maps_in(facts, scope):
        counts = measured.get(texture.path)
        if "base_color" in texture.slots or named.get(texture.path) in OTHERS:
            continue  # one picture for everything, or a map of another name in a shared slot: no metalness was painted
        low, high = limits["none"], limits["metal"]
        found = None if counts is None else metalness_use(counts, low, high)
        if found is not None and found.between > limits["share"]:
            yield Finding(
                check="half-metal",
                level="",
                message=f"{number(100 * found.between, 3)} % of {texture.path} is neither metal nor none",
                place=map_place(texture, "metalness"),
                measured=rounded(found.between, 4),
                wanted=limits["share"],
                unit="share",
                help=f"paint surfaces below {low:g} or above {high:g}; values between belong to edges, dust and rust",
            )


CHECK = Check(
    name="half-metal",
    group="what the maps show",
    stage=82,
    needs=frozenset({"files", "headers", "pixels"}),
    looks_at="share of texels whose metalness is neither near none nor near full, inside the islands where the layout is known",
    why="nothing real is half a metal, so such a surface looks like neither",
    put_right="decide for each surface; where metal shows through paint, paint both",
    blind_spots="thin dust over metal may lie between by right",
    limits=(
        Limit(
            "none",
            "number",
            LOW,
            "metalness",
            "of 1, up to which a surface is no metal; common practice, no source",
            low=0,
            high=1,
        ),
        Limit(
            "metal",
            "number",
            HIGH,
            "metalness",
            "of 1, from which a surface is metal; common practice, no source",
            low=0,
            high=1,
        ),
        Limit("share", "number", 0.5, "share", "texels between at most; common practice, no source", low=0, high=1),
    ),
    level="note",
    scope=MAP_SCOPE,
    run=run,
)
