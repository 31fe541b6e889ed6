"""A master that has one layer only."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from tidegate.model.check import Check, Limit, Scope
from tidegate.model.facts import Facts
from tidegate.model.finding import Finding, Place
from tidegate.model.map_uses import takes_map
from tidegate.model.wording import count

LAYERED = ("psd", "openraster", "tiff")  # formats that say how many layers they hold


def run(facts: Facts, limits: Mapping[str, Any], scope: Scope) -> Iterator[Finding]:
    by_path = {texture.path: texture for texture in facts.prop.maps}
    for master in facts.prop.masters:
        texture, header = by_path.get(master.map), master.header
        if (
            header.problem
            or header.format not in LAYERED
            or (texture is not None and not takes_map(facts, texture, scope))
        ):
            continue
        if header.layers < limits["least_layers"]:
            held = count(header.layers, "layer") if header.layers else "no layer but its ground"
            yield Finding(
                check="flattened-master",
                level="",
                message=f"{master.path} holds {held}: it was flattened",
                place=Place(map=master.path),
                measured=header.layers,
                wanted=limits["least_layers"],
                unit="layers",
                help="hand in the master with its layers",
            )


CHECK = Check(
    name="flattened-master",
    group="maps and masters",
    stage=70,
    needs=frozenset({"files", "headers"}),
    looks_at="how many layers a master states, in formats that state it",
    why="a flattened master is a second flat map: nothing can be changed in it any more",
    put_right="save the master with all its layers",
    blind_spots="two empty layers pass; layers of TIFF are counted as pages or in the private tag 37724, no other is read",
    limits=(Limit("least_layers", "integer", 2, "layers", "layers at least; common practice, no source", low=1),),
    level="warning",
    scope=frozenset({"slot", "material", "variant", "tile"}),
    run=run,
)
