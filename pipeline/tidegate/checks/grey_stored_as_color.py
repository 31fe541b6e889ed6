"""Grey data stored three times."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from tidegate.model.check import Check, Scope
from tidegate.model.facts import Facts
from tidegate.model.finding import Finding
from tidegate.model.map_uses import DATA, lone_slot, map_place, maps_in
from tidegate.model.selection import MAP_SCOPE


def run(facts: Facts, limits: Mapping[str, Any], scope: Scope) -> Iterator[Finding]:
    measured = {one.map: one.grey for one in facts.pixels if one.grey is not None}
    for texture in maps_in(facts, scope):
        found = measured.get(texture.path)
        if found is None or not found.equal or not lone_slot(facts.prop, texture, DATA):
            continue
        yield Finding(
            check="grey-stored-as-color",
            level="",
            message=f"red, green and blue of {texture.path} are equal in every texel",
            place=map_place(texture),
            measured="3 equal channels",
            wanted="1 channel",
            help="save it as grey: a third of the memory for the same data",
        )


CHECK = Check(
    name="grey-stored-as-color",
    group="maps and masters",
    stage=71,
    needs=frozenset({"files", "headers", "pixels"}),
    looks_at="maps of data slots whose three channels agree in every texel",
    why="it takes three times the memory for the same numbers",
    put_right="save the map as grey, or pack it with others into one map",
    blind_spots="lossy saving sets the channels a little apart, and the map passes for color",
    level="note",
    scope=MAP_SCOPE,
    run=run,
)
