"""A prop so large or so small that its unit is in doubt."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from tidegate.model.check import Check, Limit, Scope
from tidegate.model.facts import Facts
from tidegate.model.finding import Finding, Place
from tidegate.model.units import likely_unit
from tidegate.model.wording import length, number, rounded


def run(facts: Facts, limits: Mapping[str, Any], scope: Scope) -> Iterator[Finding]:
    if facts.size is None or max(facts.size) <= 0:
        return
    longest = max(facts.size)
    smallest, largest = limits["smallest_m"], limits["largest_m"]
    ordered = facts.order.size_m if facts.order else None
    if ordered:
        smallest, largest = max(ordered) / limits["order_factor"], max(ordered) * limits["order_factor"]
    if smallest <= longest <= largest:
        return
    mesh = facts.prop.meshes[0]
    guess = likely_unit(longest, smallest, largest)
    suspected = f"; {guess[0]} {length(longest * guess[1])}" if guess else ""
    sides = " x ".join(length(side) for side in facts.size)
    yield Finding(
        check="unlikely-size",
        level="",
        message=f"the prop measures {sides}; believable are {length(smallest)} to {length(largest)}{suspected}",
        place=Place(file=mesh.path),
        measured=rounded(longest),
        wanted=f"{number(smallest)} to {number(largest)}",
        unit="m",
        help=(
            "export in metres; densities follow from the size and are judged again then"
            if mesh.unit_stated
            else "state the unit of such exports in the gate's configuration, or export with the unit the gate expects"
        ),
    )


CHECK = Check(
    name="unlikely-size",
    group="order, size and axes",
    stage=30,
    needs=frozenset({"files", "meshes"}),
    looks_at="the longest side of the prop in metres against what is believable, or against the size ordered",
    why="a wrong unit makes every density wrong at once; the unit is the fault, the densities its consequence",
    put_right="export in the unit the gate expects (glTF is always metres)",
    blind_spots="a wrong unit that still gives a believable size",
    limits=(
        Limit("smallest_m", "number", 0.01, "m", "longest side at least; common practice, no source", low=0),
        Limit("largest_m", "number", 30.0, "m", "longest side at most; common practice, no source", low=0),
        Limit("order_factor", "number", 5.0, "ratio", "how far from an ordered size a unit is still believed", low=1),
    ),
    run=run,
)
