"""Island borders that were meant to be straight, or to run along the tile's axes, and just miss it."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

import numpy as np

from tidegate.geometry.straightness import Runs, axis_offsets, nearly_along_axis, nearly_straight, turned_whole
from tidegate.model.check import Check, Limit, Scope
from tidegate.model.facts import Facts, Picture
from tidegate.model.finding import Finding
from tidegate.model.selection import ISLAND_SCOPE, island_place, painted_in, picture_name
from tidegate.model.wording import count, number, numbered, rounded


def run(facts: Facts, limits: Mapping[str, Any], scope: Scope) -> Iterator[Finding]:
    least, most = limits["least_texels"], limits["most_texels"]
    for picture, rows in painted_in(facts, scope):
        assert facts.unfolding is not None and facts.islands is not None
        offs: list[tuple[Any, Any]] = []
        turned: dict[int, tuple[float, float]] = {}
        total = straight = 0
        for runs in facts.unfolding.border_runs(picture):
            whole = _turned(runs, len(facts.islands), rows, limits)
            turned.update(whole)
            long = np.hypot(*(runs.end - runs.start)) >= limits["shortest_texels"]
            long &= np.isin(runs.island, rows)
            total += int(long.sum())
            straight += int((long & (axis_offsets(runs) <= least) & (runs.bow <= least)).sum())
            long &= ~np.isin(runs.island, list(whole))
            slanted = nearly_along_axis(runs, least, most, limits["degrees"]) & long
            bowed = nearly_straight(runs, least, most) & long
            off = np.where(slanted, axis_offsets(runs), 0.0)
            off = np.maximum(off, np.where(bowed, runs.bow, 0.0))
            offs.append((runs.island[slanted | bowed], off[slanted | bowed]))
        # Where most borders run free, none of them was meant to be straight.
        if straight < limits["straight_share"] * total:
            continue
        if turned:
            yield _turned_islands(facts, picture, turned, least)
        islands = np.concatenate([island for island, _ in offs]).astype(np.int64)
        if len(islands):
            yield _borders(facts, picture, islands, np.concatenate([values for _, values in offs]), total, least)


def _turned(runs: Runs, count: int, rows: Any, limits: Mapping[str, Any]) -> dict[int, tuple[float, float]]:
    """Island row -> degrees by which all of it leans, and texels by which its longest border strays from the axis."""
    lean = turned_whole(runs, count)
    long = np.hypot(*(runs.end - runs.start)) >= limits["shortest_texels"]
    off = np.zeros(count)
    np.maximum.at(off, runs.island[long], axis_offsets(runs)[long])
    found = (off > limits["least_texels"]) & (np.abs(lean) <= limits["turned_degrees"])
    return {int(row): (float(lean[row]), float(off[row])) for row in rows[found[rows]]}


def _turned_islands(facts: Facts, picture: Picture, turned: Mapping[int, tuple[float, float]], least: float) -> Finding:
    bad = np.array(sorted(turned), np.int64)
    worst = max(turned.values(), key=lambda one: one[1])[1]
    at = min(row for row, (_, off) in turned.items() if worst - off <= 1e-4)
    degrees, off = turned[at]
    which = "clockwise" if degrees > 0 else "counter-clockwise"
    return Finding(
        check="crooked-borders",
        level="",
        message=(
            f"{count(len(bad), 'island')} not quite square to the tile on {picture_name(picture)}: "
            f"{numbered((bad + 1).tolist())}; all borders of island {at + 1} lean by {number(abs(degrees), 2)} degrees, the "
            f"longest by {number(off, 3)} texels"
        ),
        place=island_place(facts, picture, bad),
        measured=rounded(float(np.round(off, 4))),
        wanted=least,
        unit="texels",
        help=f"turn island {at + 1} by {number(abs(degrees), 2)} degrees {which}, so that its borders run along rows and columns",
    )


def _borders(facts: Facts, picture: Picture, islands: Any, off: Any, total: int, least: float) -> Finding:
    worst = float(np.round(off.max(), 4))
    at = int(islands[np.abs(off - off.max()) <= 1e-4].min())
    bad = np.unique(islands)
    return Finding(
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
    looks_at=(
        "stretches of border between two bends, and by how many texels they miss a straight line or an axis; islands all of "
        "whose borders lean alike, which were turned and not turned back"
    ),
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
            "turned_degrees",
            "number",
            5.0,
            "degrees",
            "an island all of whose borders lean by more was turned on purpose; common practice, no source",
            low=0,
            high=45,
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
