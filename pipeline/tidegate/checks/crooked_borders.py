"""Island borders that were meant to be straight, or to run along the tile's axes, and just miss it."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

import numpy as np

from tidegate.geometry.straightness import axis_offsets, nearly_along_axis, nearly_straight
from tidegate.model.check import Check, Limit, Scope
from tidegate.model.facts import Facts
from tidegate.model.finding import Finding
from tidegate.model.selection import ISLAND_SCOPE, island_place, painted_in, picture_name
from tidegate.model.wording import count, number, numbered, rounded


def run(facts: Facts, limits: Mapping[str, Any], scope: Scope) -> Iterator[Finding]:
    least, most = limits["least_texels"], limits["most_texels"]
    for picture, rows in painted_in(facts, scope):
        assert facts.unfolding is not None
        offs: list[tuple[Any, Any]] = []
        total = straight = 0
        for runs in facts.unfolding.border_runs(picture):
            long = np.hypot(*(runs.end - runs.start)) >= limits["shortest_texels"]
            long &= np.isin(runs.island, rows)
            total += int(long.sum())
            straight += int((long & (axis_offsets(runs) <= least) & (runs.bow <= least)).sum())
            slanted = nearly_along_axis(runs, least, most, limits["degrees"]) & long
            bowed = nearly_straight(runs, least, most) & long
            off = np.where(slanted, axis_offsets(runs), 0.0)
            off = np.maximum(off, np.where(bowed, runs.bow, 0.0))
            offs.append((runs.island[slanted | bowed], off[slanted | bowed]))
        islands = np.concatenate([island for island, _ in offs]).astype(np.int64)
        # Where most borders run free, none of them was meant to be straight.
        if not len(islands) or straight < limits["straight_share"] * total:
            continue
        off = np.concatenate([values for _, values in offs])
        worst = float(np.round(off.max(), 4))
        at = int(islands[np.abs(off - off.max()) <= 1e-4].min())
        bad = np.unique(islands)
        yield Finding(
            check="crooked-borders",
            level="",
            message=(
                f"{count(len(islands), 'border')} of {total:,} not quite straight or along the axes on "
                f"{picture_name(picture)}, in {count(len(bad), 'island')}: {numbered((bad + 1).tolist())}; island {at + 1} "
                f"off by {number(worst, 3)} texels"
            ),
            place=island_place(facts, picture, bad),
            measured=rounded(worst),
            wanted=least,
            unit="texels",
            help="straighten these borders along rows and columns of texels, so that paint ends on whole texels",
        )


CHECK = Check(
    name="crooked-borders",
    group="UV layout",
    stage=65,
    needs=frozenset({"files", "meshes", "headers", "islands", "unfolding"}),
    looks_at="stretches of border between two bends, and by how many texels they miss a straight line or an axis",
    why="a border that leans by a texel makes a staircase along its length, and straight paint beside it shows that",
    put_right="align the points of the border; turn the whole island when all its borders lean alike",
    blind_spots="a gently curved or slanted border that is meant so; only a person knows",
    limits=(
        Limit("least_texels", "number", 0.5, "texels", "a border off by no more is straight enough", low=0),
        Limit(
            "most_texels",
            "number",
            2.0,
            "texels",
            "a border off by more is meant so; common practice, no source",
            low=0,
        ),
        Limit(
            "shortest_texels",
            "number",
            32.0,
            "texels",
            "shorter borders are not judged; common practice, no source",
            low=0,
        ),
        Limit(
            "degrees",
            "number",
            2.0,
            "degrees",
            "a border that leans more is meant so; common practice, no source",
            low=0,
        ),
        Limit(
            "straight_share",
            "number",
            0.5,
            "share",
            "of borders along the axes from which on a layout was meant to be straight; common practice, no source",
            low=0,
            high=1,
        ),
    ),
    level="note",
    scope=ISLAND_SCOPE,
    run=run,
)
