"""Levels of detail that wear other materials, lack a UV layer, or are laid out anew."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from tidegate.model.check import Check, Limit, Scope
from tidegate.model.facts import Facts
from tidegate.model.finding import Finding, Place
from tidegate.model.wording import number, one_of, rounded


def run(facts: Facts, limits: Mapping[str, Any], scope: Scope) -> Iterator[Finding]:
    for level in facts.levels:
        if not scope.takes(role=level.role):
            continue
        place = Place(file=level.file, role=level.role)
        if level.new_materials and not limits["own_materials"]:
            names = one_of([f"`{name}`" if name else "none at all" for name in level.new_materials], "and")
            yield Finding(
                check="level-of-detail-repainted",
                level="",
                message=f"{level.role} wears materials that the model does not: {names}",
                place=place,
                measured=len(level.new_materials),
                wanted=0,
                unit="materials",
                help="give the level the model's materials, so that it is drawn with the same maps",
            )
        if level.lost_layers:
            numbers = one_of([str(layer) for layer in level.lost_layers], "and")
            yield Finding(
                check="level-of-detail-repainted",
                level="",
                message=f"{level.role} lacks UV layer {numbers}, which the model has",
                place=place,
                measured=len(level.lost_layers),
                wanted=0,
                unit="UV layers",
                help="keep all UV layers when the level is made",
            )
        if level.strayed is not None and level.strayed > limits["strayed_share"] and not level.new_materials:
            yield Finding(
                check="level-of-detail-repainted",
                level="",
                message=(
                    f"{number(100 * level.strayed, 3)} % of {level.role} is painted from texels outside the model's islands: "
                    f"the level was laid out anew"
                ),
                place=place,
                measured=rounded(level.strayed),
                wanted=limits["strayed_share"],
                unit="share",
                help="keep the model's UVs when the level is made, so that it lies on the same paint",
            )


CHECK = Check(
    name="level-of-detail-repainted",
    group="levels of detail and collision",
    stage=45,
    needs=frozenset({"files", "meshes", "levels"}),
    looks_at="materials and UV layers of each level of detail, and how much of it lies on texels that the model does not use",
    why="levels share the model's maps; with another layout they show paint that was meant for another place",
    put_right="make levels from the model with its materials and UVs kept",
    blind_spots="a new layout that happens to lie on the model's islands; layers beyond the first are only counted",
    limits=(
        Limit("own_materials", "boolean", False, "", "whether a level may wear a material of its own"),
        Limit(
            "strayed_share",
            "number",
            0.1,
            "share",
            "of a level's layout that may lie outside the model's islands; common practice, no source",
            low=0,
        ),
    ),
    scope=frozenset({"role"}),
    run=run,
)
