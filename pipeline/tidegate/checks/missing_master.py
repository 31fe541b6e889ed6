"""A flat map without the layered master it was made from."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from tidegate.model.check import Check, Limit, Scope
from tidegate.model.facts import Facts
from tidegate.model.finding import Finding, Place


def run(facts: Facts, limits: Mapping[str, Any], scope: Scope) -> Iterator[Finding]:
    mastered = {master.map for master in facts.prop.masters}
    for texture in facts.prop.maps:
        if texture.library or texture.blob is not None:
            continue
        wanted = [s for s in texture.slots if s in limits["slots"] and scope.takes(slot=s, variant=texture.variant)]
        if wanted and texture.path not in mastered:
            yield Finding(
                check="missing-master",
                level="",
                message=f"{texture.path} has no layered master beside it",
                place=Place(map=texture.path, slot=wanted[0], variant=texture.variant),
                measured="none",
                wanted="a layered master with the same name",
                help="save the layered file under the map's name with a master's ending, and drop both",
            )


CHECK = Check(
    name="missing-master",
    group="maps and masters",
    stage=23,
    needs=frozenset({"files", "headers"}),
    looks_at="whether each map of the named slots has its layered master in the drop",
    why="without the layers, the next change means painting the map again",
    put_right="save the layered file beside the flat map under the same name",
    blind_spots="whether the master holds what the map shows is judged by another check",
    limits=(Limit("slots", "texts", ["base_color"], "", "slots whose maps need a master; common practice, no source"),),
    level="warning",
    scope=frozenset({"slot", "variant"}),
    run=run,
)
