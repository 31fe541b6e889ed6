"""Levels of detail that stand elsewhere than the model, or are of another size."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from tidegate.model.check import Check, Limit, Scope
from tidegate.model.facts import Facts
from tidegate.model.finding import Finding, Place
from tidegate.model.wording import length, rounded

SIDES = ("left", "lower", "back", "right", "upper", "front")  # low x y z, then high


def run(facts: Facts, limits: Mapping[str, Any], scope: Scope) -> Iterator[Finding]:
    for level in facts.levels:
        if not scope.takes(role=level.role):
            continue
        longest = max(high - low for low, high in zip(level.model_low, level.model_high, strict=True))
        model, own = (*level.model_low, *level.model_high), (*level.low, *level.high)
        off = [abs(a - b) for a, b in zip(model, own, strict=True)]
        worst = max(range(6), key=off.__getitem__)
        place = Place(file=level.file, role=level.role)
        if off[worst] > limits["bounds_share"] * longest:
            yield Finding(
                check="level-of-detail-out-of-place",
                level="",
                message=f"the {SIDES[worst]} side of {level.role} lies {length(off[worst])} from that of the model",
                place=place,
                measured=rounded(off[worst]),
                wanted=rounded(limits["bounds_share"] * longest),
                unit="m",
                help="export every level from one place and in one size; a coarse level should fill the model's box",
            )
        if level.pivot is None or level.model_pivot is None:
            continue
        moved = max(abs(a - b) for a, b in zip(level.pivot, level.model_pivot, strict=True))
        if moved > limits["pivot_m"]:
            yield Finding(
                check="level-of-detail-out-of-place",
                level="",
                message=f"the pivot of {level.role} lies {length(moved)} from that of the model",
                place=place,
                measured=rounded(moved),
                wanted=limits["pivot_m"],
                unit="m",
                help="give every level the model's pivot: a switch moves what is hung onto it otherwise",
            )


CHECK = Check(
    name="level-of-detail-out-of-place",
    group="levels of detail and collision",
    stage=45,
    needs=frozenset({"files", "meshes", "levels"}),
    looks_at="the box of each level of detail against the model's, and the origin of the nodes that place them",
    why="a level that stands elsewhere makes the prop jump while the camera moves away",
    put_right="export all levels from one place with one pivot",
    blind_spots="a level that fills the box and still has another shape; formats without nodes have no pivot to compare",
    limits=(
        Limit(
            "bounds_share",
            "number",
            0.1,
            "share",
            "of the model's longest side that a side of the box may be off; common practice, no source",
            low=0,
        ),
        Limit("pivot_m", "number", 0.001, "m", "how far a pivot may be off; common practice, no source", low=0),
    ),
    scope=frozenset({"role"}),
    run=run,
)
