"""Islands with too few texels between them or to the tile border."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

import numpy as np

from tidegate.model.check import Check, Limit, Scope
from tidegate.model.facts import Facts
from tidegate.model.finding import Finding
from tidegate.model.selection import ISLAND_SCOPE, island_place, islands_in, picture_name
from tidegate.model.wording import count, number, numbers, rounded


def run(facts: Facts, limits: Mapping[str, Any], scope: Scope) -> Iterator[Finding]:
    spaced = {id(s.picture): s for s in facts.spacing}
    for picture, rows in islands_in(facts, scope):
        gaps = spaced.get(id(picture))
        if gaps is None:
            continue
        between = limits["between_texels"]
        if between is not None:
            close = [g for g in gaps.pairs if g.texels < between and (np.isin(rows, (g.first, g.second)).any())]
            if close:
                nearest = min(close, key=lambda g: (g.texels, g.first, g.second))
                islands = np.array(sorted({i for g in close for i in (g.first, g.second)}), dtype=np.int64)
                yield Finding(
                    check="islands-too-close",
                    level="",
                    message=(
                        f"{count(len(close), 'pair')} of islands closer than {number(between)} texels on "
                        f"{picture_name(picture)}: {numbers((islands + 1).tolist())}; closest {nearest.first + 1} and "
                        f"{nearest.second + 1} at {number(nearest.texels, 3)} texels"
                    ),
                    place=island_place(facts, picture, np.array([nearest.first, nearest.second])),
                    measured=rounded(nearest.texels),
                    wanted=between,
                    unit="texels",
                    help="move these islands apart, so that color can run past both edges without meeting",
                )
        border = limits["border_texels"]
        if border is not None and not picture.repeats:
            near = rows[gaps.border[rows] < border]
            if len(near):
                least = near[int(np.argmin(gaps.border[near]))]
                yield Finding(
                    check="islands-too-close",
                    level="",
                    message=(
                        f"{count(len(near), 'island')} closer than {number(border)} texels to the tile border on "
                        f"{picture_name(picture)}: {numbers((near + 1).tolist())}; island {least + 1} at "
                        f"{number(float(gaps.border[least]), 3)} texels"
                    ),
                    place=island_place(facts, picture, near),
                    measured=rounded(float(gaps.border[least])),
                    wanted=border,
                    unit="texels",
                    help="draw these islands in from the border",
                )


CHECK = Check(
    name="islands-too-close",
    stage=63,
    needs=frozenset({"files", "meshes", "headers", "islands", "spacing"}),
    looks_at="the smallest gap between islands of one picture and to the tile border, in texels of the map",
    why="smaller versions of the map mix neighbouring texels; without room, one island's color bleeds into the next",
    put_right="move islands apart or pack with more padding; 2 to the n texels a side keep n smaller versions clean at best",
    blind_spots="filters of a renderer that reach wider than box-filtered versions and linear sampling do",
    limits=(
        Limit("between_texels", "number", None, "texels", "gap between islands at least; common practice", low=0),
        Limit("border_texels", "number", None, "texels", "gap to the tile border at least; common practice", low=0),
    ),
    level="warning",
    scope=ISLAND_SCOPE,
    run=run,
)
