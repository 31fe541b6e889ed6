"""Islands laid out as in a mirror."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

import numpy as np

from tidegate.model.check import Check, Limit, Scope
from tidegate.model.facts import Facts
from tidegate.model.finding import Finding
from tidegate.model.selection import ISLAND_SCOPE, island_place, painted_in, picture_name
from tidegate.model.wording import count, numbered


def run(facts: Facts, limits: Mapping[str, Any], scope: Scope) -> Iterator[Finding]:
    columns = facts.islands
    if limits["allow"] == "freely":
        return
    twins = _with_upright_twin(facts)
    for picture, rows in painted_in(facts, scope):
        assert columns is not None
        mirrored = columns.winding[rows] < 0
        if limits["allow"] == "stacked":
            mirrored &= ~np.isin(rows, twins)
        if not mirrored.any():
            continue
        bad = rows[mirrored]
        tail = " without an unmirrored twin under it" if limits["allow"] == "stacked" else ""
        yield Finding(
            check="mirrored-islands",
            level="",
            message=(
                f"{count(len(bad), 'island')} of {len(rows)} mirrored{tail} on {picture_name(picture)}: "
                f"{numbered((bad + 1).tolist())}"
            ),
            place=island_place(facts, picture, bad),
            measured=len(bad),
            wanted=0,
            unit="islands",
            help=(
                "flip these islands in UV space; lettering and light on them would read backwards"
                if len(bad) < len(rows) or len(rows) == 1
                else "all islands of the map are mirrored: the export may have turned its UVs over; export anew or flip all"
            ),
        )


def _with_upright_twin(facts: Facts) -> Any:
    """Rows of mirrored islands that lie exactly on an unmirrored one."""
    columns = facts.islands
    assert columns is not None
    found = [
        row
        for covered in facts.coverage
        for stack in covered.stacks
        if any(columns.winding[other] > 0 for other in stack)
        for row in stack
    ]
    return np.array(sorted(found), dtype=np.int64)


CHECK = Check(
    name="mirrored-islands",
    group="UV layout",
    stage=61,
    needs=frozenset({"files", "meshes", "headers", "islands", "coverage"}),
    looks_at="the winding of every island: V up and fronts counter-clockwise, a mirrored island has negative UV area",
    why="lettering reads backwards and normal maps light the wrong way on a mirrored island",
    put_right="flip the island, or allow it by rule where it is stacked on its unmirrored twin on purpose",
    blind_spots="lettering painted backwards on an island that is not mirrored",
    limits=(
        Limit(
            "allow",
            "choice",
            "never",
            "",
            "never, stacked (only on an unmirrored twin), or freely; common practice, no source",
            choices=("never", "stacked", "freely"),
        ),
    ),
    scope=ISLAND_SCOPE,
    run=run,
)
