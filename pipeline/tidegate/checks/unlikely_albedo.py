"""Base color darker or brighter than surfaces are."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from tidegate.model.check import Check, Limit, Scope
from tidegate.model.facts import Facts
from tidegate.model.finding import Finding
from tidegate.model.map_uses import map_place, maps_in
from tidegate.model.selection import MAP_SCOPE
from tidegate.model.wording import number, rounded
from tidegate.pixels.albedo import BRIGHTEST, DARKEST


def run(facts: Facts, limits: Mapping[str, Any], scope: Scope) -> Iterator[Finding]:
    codes = (limits["darkest"], limits["brightest"])
    measured = {
        one.map: albedo
        for one in facts.pixels
        if not one.flat.looks_unsaved
        for albedo in one.albedo
        if (albedo.darkest, albedo.brightest) == codes
    }
    for texture in maps_in(facts, scope):
        found = measured.get(texture.path)
        if found is None:
            continue
        for share, most, than, code in (
            (found.dark, limits["dark_share"], "darker", codes[0]),
            (found.bright, limits["bright_share"], "brighter", codes[1]),
        ):
            if share > most:
                yield Finding(
                    check="unlikely-albedo",
                    level="",
                    message=f"{number(100 * share, 3)} % of {texture.path} is {than} than a grey of {number(code, 4)}",
                    place=map_place(texture, "base_color"),
                    measured=rounded(share, 4),
                    wanted=most,
                    unit="share",
                    help="paint the color of the surface alone: light, shadow and gloss are added by the material",
                )


CHECK = Check(
    name="unlikely-albedo",
    group="what the maps show",
    stage=82,
    needs=frozenset({"files", "headers", "pixels"}),
    looks_at="share of base color texels whose luminance lies below that of a dark sRGB grey or above that of a bright one, "
    "inside the islands where the layout is known",
    why="painted-in shadow and glare stay where they are when the light moves",
    put_right="lift the blacks and lower the whites of the base color",
    blind_spots="soot, velvet, snow and polished silver do lie out there; shadows that were baked in lie between",
    limits=(
        Limit(
            "darkest",
            "number",
            DARKEST,
            "sRGB code",
            "grey of 8 bits that surfaces are seldom darker than; common practice, no source",
            low=0,
            high=255,
        ),
        Limit(
            "brightest",
            "number",
            BRIGHTEST,
            "sRGB code",
            "grey of 8 bits that surfaces are seldom brighter than; common practice, no source",
            low=0,
            high=255,
        ),
        Limit("dark_share", "number", 0.5, "share", "darker texels at most; common practice, no source", low=0, high=1),
        Limit(
            "bright_share", "number", 0.5, "share", "brighter texels at most; common practice, no source", low=0, high=1
        ),
    ),
    level="note",
    scope=MAP_SCOPE,
    run=run,
)
