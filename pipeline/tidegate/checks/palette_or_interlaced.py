"""A map stored with a palette or interlaced."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from tidegate.model.check import Check, Limit, Scope
from tidegate.model.facts import Facts
from tidegate.model.finding import Finding
from tidegate.model.map_uses import map_place, maps_in
from tidegate.model.selection import MAP_SCOPE
from tidegate.model.wording import count


def run(facts: Facts, limits: Mapping[str, Any], scope: Scope) -> Iterator[Finding]:
    for texture in maps_in(facts, scope):
        header = texture.header
        if not header.readable:
            continue
        if header.color_model == "palette" and not limits["palette"]:
            yield Finding(
                check="palette-or-interlaced",
                level="",
                message=f"{texture.path} is stored with a palette of {count(header.palette, 'color')}",
                place=map_place(texture),
                measured="palette",
                wanted="full color",
                help="save it in full color from its master: a palette has thrown colors away",
            )
        if header.interlaced and not limits["interlaced"]:
            yield Finding(
                check="palette-or-interlaced",
                level="",
                message=f"{texture.path} is stored {'progressive' if header.format == 'jpeg' else 'interlaced'}",
                place=map_place(texture),
                measured="interlaced",
                wanted="row by row",
                help="save it without interlace",
            )


CHECK = Check(
    name="palette-or-interlaced",
    group="maps and masters",
    stage=70,
    needs=frozenset({"files", "headers"}),
    looks_at="palettes and interlaced storage of maps",
    why="a palette holds at most 256 colors, and interlaced files are larger and refused by some readers",
    put_right="save the map in full color, row by row",
    blind_spots="a full-color file may have been a palette before",
    limits=(
        Limit("palette", "boolean", False, "", "whether maps may be stored with a palette; common practice, no source"),
        Limit("interlaced", "boolean", False, "", "whether maps may be interlaced; common practice, no source"),
    ),
    level="warning",
    scope=MAP_SCOPE,
    run=run,
)
