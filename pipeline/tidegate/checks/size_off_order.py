"""A prop that is not as large as ordered."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from tidegate.model.check import Check, Limit, Scope
from tidegate.model.facts import Facts
from tidegate.model.finding import Finding, Place
from tidegate.model.wording import length, rounded


def run(facts: Facts, limits: Mapping[str, Any], scope: Scope) -> Iterator[Finding]:
    if facts.size is None or facts.order is None or facts.order.size_m is None or not facts.prop.meshes:
        return
    for name, measured, wanted in zip(("width", "height", "depth"), facts.size, facts.order.size_m, strict=True):
        if wanted <= 0 or abs(measured - wanted) <= limits["tolerance"] * wanted:
            continue
        yield Finding(
            check="size-off-order",
            level="",
            message=f"{name} is {length(measured)}, ordered was {length(wanted)}",
            place=Place(file=facts.prop.meshes[0].path),
            measured=rounded(measured),
            wanted=wanted,
            exact=True,
            unit="m",
            help=f"scale the model to {length(wanted)} in {name}, or have the order corrected",
        )


CHECK = Check(
    name="size-off-order",
    group="order, size and axes",
    stage=31,
    needs=frozenset({"files", "meshes"}),
    looks_at="width (x), height (y) and depth (z) of the model in metres against the row of the order list",
    why="a prop of the wrong size stands wrong beside every other one",
    put_right="scale the model, or have the order corrected",
    blind_spots="props without a row or without a size in it",
    limits=(Limit("tolerance", "number", 0.05, "share", "allowed share above and below the ordered size", low=0),),
    run=run,
)
