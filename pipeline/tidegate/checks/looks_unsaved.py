"""A map that looks as if nothing had been saved into it."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from tidegate.model.check import Check, Limit, Scope
from tidegate.model.facts import Facts
from tidegate.model.finding import Finding
from tidegate.model.map_uses import channels_of, map_place, maps_in
from tidegate.model.selection import MAP_SCOPE

# Slots in which a map of one extreme is a plain statement: no metal, no light, nothing hidden, solid.
BELIEVABLE = {
    "metalness": ("fully black", "fully white"),
    "occlusion": ("fully white",),
    "emission": ("fully black",),
    "opacity": ("fully white",),
    "height": ("fully black", "fully white"),
}


def run(facts: Facts, limits: Mapping[str, Any], scope: Scope) -> Iterator[Finding]:
    flatness = dict(facts.flatness)
    for texture in maps_in(facts, scope):
        found = flatness.get(texture.path)
        if found is None or not found.looks_unsaved:
            continue
        if max(texture.header.width, texture.header.height) <= limits["swatch"]:
            continue
        uses = channels_of(facts.prop, texture.path)
        says = found.looks_unsaved
        plain = says == "one flat colour"
        if plain and not any(slot in limits["varied"] for slot in uses):
            continue
        if not plain and uses and all(says in BELIEVABLE.get(slot, ()) for slot in uses):
            continue
        yield Finding(
            check="looks-unsaved",
            level="warning" if plain else "",
            message=f"{texture.path} is {_said(found)}: it looks as if it was never saved",
            place=map_place(texture),
            measured=says.replace("colour", "color"),
            wanted="a painted map",
            help="export the map again from its master; for a plain color a factor of the material or a swatch will do",
        )


def _said(found: Any) -> str:
    if found.looks_unsaved != "one flat colour":
        return str(found.looks_unsaved)
    return f"one flat color, {' '.join(str(code) for code in found.common)}"


CHECK = Check(
    name="looks-unsaved",
    group="what the maps show",
    stage=80,
    needs=frozenset({"files", "headers", "flatness"}),
    looks_at="maps that are black, white or transparent all over, or one color where paint is wanted",
    why="an export that ran before the layers were shown writes such maps, and nobody opens them again",
    put_right="show the layers and export the map again",
    blind_spots="a map with a single stray texel is not called flat",
    limits=(
        Limit(
            "varied",
            "texts",
            ["base_color"],
            "",
            "slots in which one flat color is doubted; common practice, no source",
        ),
        Limit(
            "swatch",
            "integer",
            16,
            "texels",
            "longer side up to which a flat map is taken for a swatch that is meant; common practice, no source",
            low=0,
        ),
    ),
    scope=MAP_SCOPE,
    run=run,
)
