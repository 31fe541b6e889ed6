"""A map whose file states a color space that its slot contradicts."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from tidegate.model.check import Check, Scope
from tidegate.model.facts import Facts
from tidegate.model.finding import Finding
from tidegate.model.map_uses import COLOR, channels_of, map_place, maps_in
from tidegate.model.selection import MAP_SCOPE


def run(facts: Facts, limits: Mapping[str, Any], scope: Scope) -> Iterator[Finding]:
    for texture in maps_in(facts, scope):
        stated = dict(reversed(texture.header.color_chunks))
        uses = channels_of(facts.prop, texture.path)
        if not stated or not uses or not texture.header.readable:
            continue
        space, name = _space(stated)
        wanted = "color" if any(slot in COLOR for slot in uses) else "data"
        if space and space != wanted:
            slot = next(iter(uses))
            yield Finding(
                check="contradicting-color-space",
                level="",
                message=(
                    f"{texture.path} states {name}, {'a curve for colors' if space == 'color' else 'linear values'}, "
                    f"but serves {slot.replace('_', ' ')}, which is {wanted}"
                ),
                place=map_place(texture, slot),
                measured=name,
                wanted="sRGB or none" if wanted == "color" else "none",
                help="save it without color-space information; glTF readers ignore it, other readers convert the values by it",
            )


def _space(stated: Mapping[str, str]) -> tuple[str, str]:
    """What the statement means, "color" or "data", and its name; "" where it means neither for sure.

    Of several statements the first of this order counts: PNG, Third Edition, 4.3.
    """
    for key in ("iCCP", "ICC"):
        if key in stated:
            words = stated[key].lower()
            if "linear" in words:
                return "data", f"the profile `{stated[key]}`"
            return ("color", f"the profile `{stated[key]}`") if "srgb" in words or "rgb" in words else ("", "")
    if "sRGB" in stated:
        return "color", "sRGB"
    if stated.get("gAMA", "").isdigit():
        gamma = int(stated["gAMA"]) / 100_000
        if gamma >= 0.9:
            return "data", f"a gamma of {gamma:g}"
        if 0.4 <= gamma <= 0.6:
            return "color", f"a gamma of {gamma:g}"
    return "", ""


CHECK = Check(
    name="contradicting-color-space",
    group="maps and masters",
    stage=70,
    needs=frozenset({"files", "headers"}),
    looks_at="color-space statements inside map files (profiles, sRGB, gamma) against what the slot holds",
    why="glTF ignores them (glTF 2.0, 3.8.3), other readers apply them: the map then looks different in each",
    put_right="save the map without profile and gamma",
    blind_spots="a map without any statement may still hold values of the wrong curve",
    level="note",
    scope=MAP_SCOPE,
    run=run,
)
