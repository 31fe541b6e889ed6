"""A map with another depth than its slot wants."""

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
        if not header.readable or header.color_model == "compressed":
            continue
        uses = channels_of(facts.prop, texture.path)
        bits = 8 if header.color_model == "palette" else header.bits_per_channel
        wanted = {limits["bits"][slot] for slot in uses if slot in limits["bits"]}
        if wanted and bits not in wanted:
            best = max(wanted)
            yield Finding(
                check="wrong-bit-depth",
                level="",
                message=f"{texture.path} has {bits} bits a channel, its slot wants {best:g}",
                place=map_place(texture),
                measured=bits,
                wanted=int(best),
                exact=True,
                unit="bits",
                help=f"save it with {best:g} bits a channel from its master; more depth cannot be made from the flat map",
            )


CHECK = Check(
    name="wrong-bit-depth",
    group="maps and masters",
    stage=70,
    needs=frozenset({"files", "headers"}),
    looks_at="bits of each channel of a map against what its slot wants",
    why="8 bits of height show steps, and 16 bits of color double the memory for nothing",
    put_right="save the map again from its master in the wanted depth",
    blind_spots="a map may have the depth and not use it; other checks look at the pixels",
    limits=(
        Limit(
            "bits",
            "table",
            {"base_color": 8, "normal": 8, "roughness": 8, "metalness": 8, "occlusion": 8, "height": 16},
            "bits",
            "slot and its wanted bits a channel; common practice, no source",
        ),
    ),
    level="warning",
    scope=MAP_SCOPE,
    run=run,
)
