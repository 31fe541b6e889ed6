"""An alpha channel that is the same all over."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from tidegate.model.check import Check, Scope
from tidegate.model.facts import Facts
from tidegate.model.finding import Finding
from tidegate.model.map_uses import map_place, maps_in
from tidegate.model.selection import MAP_SCOPE


def run(facts: Facts, limits: Mapping[str, Any], scope: Scope) -> Iterator[Finding]:
    measured = {one.map: one for one in facts.pixels}
    for texture in maps_in(facts, scope):
        found = measured.get(texture.path)
        if found is None or found.alpha is None or not found.alpha.unused or found.alpha.high == 0:
            continue
        yield Finding(
            check="unused-alpha",
            level="",
            message=f"the alpha channel of {texture.path} is the same everywhere",
            place=map_place(texture),
            measured=found.alpha.high,
            wanted="no alpha, or one that varies",
            help="save it without alpha",
        )


CHECK = Check(
    name="unused-alpha",
    group="maps and masters",
    stage=70,
    needs=frozenset({"files", "headers", "pixels"}),
    looks_at="whether an alpha channel takes more than one value anywhere",
    why="it costs a third more memory and says nothing, or what should have been cut out was not saved",
    put_right="save the map without alpha, or with the cut-out that was meant",
    blind_spots="alpha that varies and means nothing, such as noise",
    level="warning",
    scope=MAP_SCOPE,
    run=run,
)
