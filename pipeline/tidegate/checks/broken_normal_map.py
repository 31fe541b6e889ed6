"""A normal map that holds no normals, or bent ones."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from tidegate.model.check import Check, Limit, Scope
from tidegate.model.facts import Facts
from tidegate.model.finding import Finding, Shown
from tidegate.model.map_uses import map_place, maps_in
from tidegate.model.selection import MAP_SCOPE
from tidegate.model.wording import number, rounded

SHORT, LONG = 1, 3  # the 5th and the 95th of `normal_length.PERCENTILES`


def run(facts: Facts, limits: Mapping[str, Any], scope: Scope) -> Iterator[Finding]:
    measured = {one.map: one.normal for one in facts.pixels if one.normal is not None}
    for texture in maps_in(facts, scope):
        found = measured.get(texture.path)
        if found is None or not found.texels:
            continue
        fault = _fault(found, limits)
        if fault is None:
            continue
        says, value, wanted, help = fault
        yield Finding(
            check="broken-normal-map",
            level="",
            message=f"{texture.path} {says}",
            place=map_place(texture, "normal"),
            measured=value,
            wanted=wanted,
            help=help,
            shown=Shown(over="outlines"),
        )


def _fault(found: Any, limits: Mapping[str, Any]) -> tuple[str, float | str, float | str, str] | None:
    """The first thing wrong, in the order in which it explains what follows."""
    if found.curve == "encoded":
        return (
            "was put through the sRGB curve on saving: undone, its vectors have length 1",
            "sRGB curve",
            "plain values",
            "bake or export it again as data, without color management",
        )
    if found.curve == "decoded":
        return (
            "had the sRGB curve taken off on saving: put back, its vectors have length 1",
            "curve taken off",
            "plain values",
            "bake or export it again as data, without color management",
        )
    if not found.is_normal_map:
        return (
            f"is no normal map: half of its vectors are shorter than {number(found.lengths[2], 3)}, 1 is wanted"
            if found.lengths[2] < 1
            else f"is no normal map: half of its vectors are longer than {number(found.lengths[2], 3)}, 1 is wanted",
            rounded(found.lengths[2], 4),
            1,
            "put the right picture into the normal slot, or bake the normals again",
        )
    if found.inward > limits["inward_share"]:
        return (
            f"points into the surface in {number(100 * found.inward, 2)} % of its texels: blue is at or below one half",
            rounded(found.inward, 4),
            limits["inward_share"],
            "bake it again in tangent space; check that channels were not swapped",
        )
    if found.lengths[SHORT] < limits["shortest"]:
        return (
            f"holds vectors shorter than {number(found.lengths[SHORT], 3)} in one texel of twenty",
            rounded(found.lengths[SHORT], 4),
            limits["shortest"],
            "normalize it again after resizing, blending or painting over it",
        )
    if found.lengths[LONG] > limits["longest"]:
        return (
            f"holds vectors longer than {number(found.lengths[LONG], 3)} in one texel of twenty",
            rounded(found.lengths[LONG], 4),
            limits["longest"],
            "normalize it again after resizing, blending or painting over it",
        )
    return None


CHECK = Check(
    name="broken-normal-map",
    group="what the maps show",
    stage=80,
    needs=frozenset({"files", "headers", "pixels"}),
    looks_at="lengths of the vectors by percentile, whether they point outwards, and whether the sRGB curve was applied; only "
    "inside the islands where the layout is known",
    why="normals of another length or curve shade wrongly everywhere, and it is taken for a fault of the light",
    put_right="bake or export the map again as data",
    blind_spots="whether green points up or down: both give unit vectors; a rounded 8-bit unit vector misses 1 by up to 0.0068",
    limits=(
        Limit(
            "shortest", "number", 0.8, "length", "5th percentile of length at least; common practice, no source", low=0
        ),
        Limit(
            "longest", "number", 1.1, "length", "95th percentile of length at most; common practice, no source", low=1
        ),
        Limit(
            "inward_share",
            "number",
            0.005,
            "share",
            "texels that may point into the surface; common practice, no source",
            low=0,
            high=1,
        ),
    ),
    scope=MAP_SCOPE,
    run=run,
)
