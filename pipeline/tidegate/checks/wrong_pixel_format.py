"""A map stored as color or grey where its slot wants the other."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from tidegate.model.check import Check, Limit, Scope
from tidegate.model.facts import Facts
from tidegate.model.finding import Finding
from tidegate.model.map_uses import channels_of, map_place, maps_in, packed
from tidegate.model.selection import MAP_SCOPE


def run(facts: Facts, limits: Mapping[str, Any], scope: Scope) -> Iterator[Finding]:
    for texture in maps_in(facts, scope):
        header = texture.header
        if not header.readable or header.color_model == "compressed":
            continue
        uses = channels_of(facts.prop, texture.path)
        kind = _kind(header.color_model)
        asked = _asked(uses, limits)
        if asked and kind != asked:
            yield Finding(
                check="wrong-pixel-format",
                level="",
                message=f"{texture.path} is stored as {kind}, its slot wants {asked}",
                place=map_place(texture),
                measured=kind,
                wanted=asked,
                help=f"save it as {asked}",
            )


def _kind(model: str) -> str:
    return {"grey": "grey", "cmyk": "CMYK", "lab": "Lab"}.get(model, "color")


def _asked(uses: dict[str, str], limits: Mapping[str, Any]) -> str:
    """ "color", "grey", or "" where the slots say nothing or several numbers share the map."""
    if any(slot in limits["color"] for slot in uses) or packed(uses):
        return "color"
    return "grey" if uses and all(slot in limits["grey"] for slot in uses) else ""


CHECK = Check(
    name="wrong-pixel-format",
    group="maps and masters",
    stage=70,
    needs=frozenset({"files", "headers"}),
    looks_at="whether a map is stored as color or grey, against what its slot wants",
    why="grey data stored as color takes three times the memory, and color stored as grey is lost",
    put_right="save the map again from its master in the wanted mode",
    blind_spots="what the channels hold; other checks look at the pixels",
    limits=(
        Limit(
            "color",
            "texts",
            ["base_color", "normal", "emission"],
            "",
            "slots whose maps are stored in three channels; common practice, no source",
        ),
        Limit(
            "grey",
            "texts",
            ["roughness", "metalness", "occlusion", "height", "opacity"],
            "",
            "slots whose maps are stored in one channel unless several share one map; common practice, no source",
        ),
    ),
    level="warning",
    scope=MAP_SCOPE,
    run=run,
)
