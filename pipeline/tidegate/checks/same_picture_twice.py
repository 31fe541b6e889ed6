"""One picture in two slots of a material."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from tidegate.model.check import Check, Limit, Scope
from tidegate.model.facts import Facts
from tidegate.model.finding import Finding, Shown
from tidegate.model.map_uses import channels_of, map_place, takes_map
from tidegate.model.selection import MAP_SCOPE
from tidegate.model.wording import one_of


def run(facts: Facts, limits: Mapping[str, Any], scope: Scope) -> Iterator[Finding]:
    by_path = {texture.path: texture for texture in facts.prop.maps}
    for one, other in facts.same_pictures:
        if not takes_map(facts, by_path[one], scope) and not takes_map(facts, by_path[other], scope):
            continue
        slots = [sorted(channels_of(facts.prop, path)) for path in (one, other)]
        if all(set(both) & set(limits["may_repeat"]) for both in slots):
            continue
        names = [one_of([slot.replace("_", " ") for slot in both], "and") for both in slots]
        yield Finding(
            check="same-picture-twice",
            level="",
            message=f"{one} ({names[0]}) and {other} ({names[1]}) hold the same picture",
            place=map_place(by_path[other]),
            measured="same picture",
            wanted="a picture of its own for each slot",
            help="export again the one of the two that is wrong; where both are meant, let both slots read one file",
            shown=Shown(over="outlines"),
        )


CHECK = Check(
    name="same-picture-twice",
    group="what the maps show",
    stage=81,
    needs=frozenset({"files", "headers", "pixels"}),
    looks_at="maps of one material in different slots that show the same picture, also at two sizes",
    why="an export that wrote one layer group under two names gives a roughness that is the color in disguise",
    put_right="export the wrong one again",
    blind_spots="a picture that was made brighter or inverted counts as another one; very plain pictures are left alone",
    limits=(
        Limit(
            "may_repeat",
            "texts",
            ["base_color", "emission"],
            "",
            "slots that may show one picture among each other; common practice, no source",
        ),
    ),
    level="warning",
    scope=MAP_SCOPE,
    run=run,
)
