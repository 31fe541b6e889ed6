"""Texels that two places of the surface share by accident."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

import numpy as np

from tidegate.model.check import Check, Limit, Scope
from tidegate.model.facts import Facts, Picture
from tidegate.model.finding import Finding
from tidegate.model.selection import ISLAND_SCOPE, island_place, made_to_repeat, painted_in, picture_name
from tidegate.model.wording import count, number, numbers

ALIKE = 0.9  # smaller over larger area of islands of one shape


def run(facts: Facts, limits: Mapping[str, Any], scope: Scope) -> Iterator[Finding]:
    columns = facts.islands
    covered = {id(c.picture): c for c in facts.coverage}
    for picture, rows in painted_in(facts, scope):
        cover = covered.get(id(picture))
        if cover is None:
            continue
        assert columns is not None
        for group in cover.overlaps:
            islands = np.array(group.islands, dtype=np.int64)
            if not np.isin(islands, rows).any() or group.texels <= limits["allowed_texels"]:
                continue
            if group.stack and limits["allow_stacks"]:
                continue
            apart = _apart(facts, picture, islands)
            near = not group.stack and len(islands) > 1 and apart <= limits["near_texels"]
            what, help = "overlap", "move them apart"
            if group.stack:
                what = "lie exactly on each other"
                help = "move them apart, or allow stacks by rule where the same paint is meant for all of them"
            elif near:
                what = f"nearly lie on each other, up to {number(apart, 3)} texels apart,"
                help = "lay them exactly on each other if they are to share their paint, or move them apart"
            elif len(islands) == 1:
                what = "overlaps itself"
                help = "cut the island where it runs over itself, or unfold it"
            yield Finding(
                check="overlapping-islands",
                level="note" if made_to_repeat(columns, picture) else "",
                message=(
                    f"{count(len(islands), 'island')} {what} on {picture_name(picture)}: "
                    f"{numbers((islands + 1).tolist())}; {count(group.texels, 'texel')} shared"
                ),
                place=island_place(facts, picture, islands),
                measured=group.texels,
                wanted=limits["allowed_texels"],
                unit="texels",
                help=help,
            )


def _apart(facts: Facts, picture: Picture, islands: Any) -> float:
    """Texels by which the boxes of the islands differ at most, and their areas allow for; infinite for other shapes."""
    columns = facts.islands
    assert columns is not None
    corner = columns.corner[islands].astype(np.float64)
    boxes = columns.bounds[islands] - np.concatenate([corner, corner], axis=1)
    spread = (boxes.max(axis=0) - boxes.min(axis=0)) * np.array([picture.width, picture.height] * 2)
    area = columns.uv_area[islands]
    alike = area.min() >= ALIKE * area.max()
    return float(np.round(spread.max(), 4)) if alike else float("inf")


CHECK = Check(
    name="overlapping-islands",
    stage=61,
    needs=frozenset({"files", "meshes", "headers", "islands", "coverage"}),
    looks_at="texels covered more than once, at the size of the map, by islands of one picture",
    why="what is painted for one face shows up on another, and baked light is spoiled",
    put_right="move the islands apart; stack on purpose only whole islands that fit each other exactly",
    blind_spots=(
        "an overlap thinner than a texel, which no texel centre sees; on a map that half of the islands run past the tile "
        "of, overlap is a note; what an island larger than the tile shares with itself over the border is not counted"
    ),
    limits=(
        Limit("allowed_texels", "integer", 0, "texels", "shared texels of a group that are still let pass", low=0),
        Limit(
            "near_texels",
            "number",
            4.0,
            "texels",
            "boxes of overlapping islands no further apart were meant as a stack; common practice, no source",
            low=0,
        ),
        Limit("allow_stacks", "boolean", False, "", "islands that lie exactly on each other are meant so"),
    ),
    scope=ISLAND_SCOPE,
    run=run,
)
