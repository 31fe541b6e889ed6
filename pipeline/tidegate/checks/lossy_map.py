"""A map in a format that throws detail away."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from tidegate.model.check import Check, Limit, Scope
from tidegate.model.facts import Facts
from tidegate.model.finding import Finding
from tidegate.model.map_uses import channels_of, map_place, maps_in
from tidegate.model.selection import MAP_SCOPE


def run(facts: Facts, limits: Mapping[str, Any], scope: Scope) -> Iterator[Finding]:
    for texture in maps_in(facts, scope):
        header = texture.header
        if not header.readable or not header.lossy or header.color_model == "compressed":
            continue
        slots = [slot for slot in channels_of(facts.prop, texture.path) if slot in limits["slots"]]
        if slots:
            yield Finding(
                check="lossy-map",
                level="",
                message=f"{texture.path} is a lossy {header.format.upper()}, its slot wants every texel kept",
                place=map_place(texture, slots[0]),
                measured=f"lossy {header.format}",
                wanted="lossless",
                help="save it from its master in a lossless format; saving the lossy file anew brings nothing back",
            )


CHECK = Check(
    name="lossy-map",
    group="maps and masters",
    stage=70,
    needs=frozenset({"files", "headers"}),
    looks_at="lossy compression of maps in slots that want each texel as it was painted",
    why="lossy saving bends normals, smears data between channels and leaves blocks that grow with every further save",
    put_right="export the map again from its master without loss",
    blind_spots="a lossless file may have been saved from a lossy one",
    limits=(
        Limit(
            "slots",
            "texts",
            ["normal", "roughness", "metalness", "height", "opacity", "occlusion"],
            "",
            "slots whose maps have to be lossless; common practice, no source",
        ),
    ),
    level="warning",
    scope=MAP_SCOPE,
    run=run,
)
