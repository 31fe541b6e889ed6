"""Islands with too few texels between them or to the tile border."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

import numpy as np

from tidegate.geometry.mip import gap_needed
from tidegate.model.check import Check, Limit, Scope
from tidegate.model.facts import Facts, IslandColumns, Picture
from tidegate.model.finding import Finding, Shown
from tidegate.model.selection import ISLAND_SCOPE, island_place, made_to_repeat, painted_in, picture_name, tile_corner
from tidegate.model.wording import count, number, numbered, rounded


def run(facts: Facts, limits: Mapping[str, Any], scope: Scope) -> Iterator[Finding]:
    spaced = {id(s.picture): s for s in facts.spacing}
    stacked = {id(c.picture): c.stacks for c in facts.coverage}
    for picture, rows in painted_in(facts, scope):
        gaps = spaced.get(id(picture))
        if gaps is None or facts.islands is None or made_to_repeat(facts.islands, picture):
            continue
        here = set(rows.tolist())
        close = [g for g in gaps.pairs if _too_close(g, limits) and (g.first in here or g.second in here)]
        if close:
            yield _pairs(facts, picture, close, limits, stacked.get(id(picture), ()))
        border = limits["border_texels"]
        if border is not None:
            inside = facts.islands.inside[rows]
            close_by = (gaps.ends[rows] < border) & ~(inside & _spans(facts.islands, picture, rows))
            for near, cause in ((rows[close_by & inside], ""), (rows[close_by & ~inside], "islands-outside-tile")):
                if len(near):
                    yield _at_border(facts, picture, near, gaps.ends, border, cause)


def _spans(columns: IslandColumns, picture: Picture, rows: Any) -> Any:
    """Islands that reach from border to border, within half a texel at each: the map was made for them to fill."""
    box = columns.bounds[rows]
    wide, high = (box[:, 2] - box[:, 0]) * picture.width, (box[:, 3] - box[:, 1]) * picture.height
    return (wide >= picture.width - 1.0) | (high >= picture.height - 1.0)


def _at_border(facts: Facts, picture: Picture, near: Any, ends: Any, border: float, cause: str) -> Finding:
    least = near[int(np.argmin(ends[near]))]
    return Finding(
        check="islands-too-close",
        level="",
        message=(
            f"{count(len(near), 'island')} closer than {number(border)} texels to the tile border on "
            f"{picture_name(picture)}: {numbered((near + 1).tolist())}; island {least + 1} at "
            f"{number(float(ends[least]), 3)} texels"
        ),
        place=island_place(facts, picture, near),
        measured=rounded(float(ends[least])),
        wanted=border,
        unit="texels",
        help="draw these islands in from the border",
        cause=cause,
    )


def _too_close(gap: Any, limits: Mapping[str, Any]) -> bool:
    between, level = limits["between_texels"], limits["clean_mip"]
    return (between is not None and gap.texels < between) or (level is not None and gap.clean_mip < level)


def _pairs(
    facts: Facts, picture: Picture, close: list[Any], limits: Mapping[str, Any], stacks: tuple[tuple[int, ...], ...]
) -> Finding:
    lies_on = {row: stack[0] for stack in stacks for row in stack}
    apart = {tuple(sorted(lies_on.get(row, row) for row in (gap.first, gap.second))) for gap in close}
    of = "islands" if len(apart) == len(close) else "islands (a stack counted as one)"
    between, level = limits["between_texels"], limits["clean_mip"]
    nearest = min(close, key=lambda g: (g.texels, g.first, g.second))
    islands = sorted({i + 1 for g in close for i in (g.first, g.second)})
    by_texels = between is not None and nearest.texels < between
    asked = f"closer than {number(between)} texels" if by_texels else f"too close for mip level {level}"
    over = " over the border at which the map repeats" if nearest.over_border else ""
    kept = (
        f"which keeps mip level {nearest.clean_mip} clean"
        if nearest.clean_mip >= 0
        else "which keeps no mip level clean"
    )
    return Finding(
        check="islands-too-close",
        level="",
        message=(
            f"{count(len(apart), 'pair')} of {of} {asked} on {picture_name(picture)}: {numbered(islands)}; closest "
            f"{nearest.first + 1} and {nearest.second + 1} at {number(nearest.texels, 3)} texels{over}, {kept}"
        ),
        place=island_place(facts, picture, np.array([nearest.first, nearest.second])),
        measured=rounded(nearest.texels),
        wanted=between if by_texels else gap_needed(level),
        unit="texels",
        shown=Shown(spots=_spots(picture, close)),
        help=(
            "move these islands apart, so that color can run past both edges without meeting; what lies at one border of a "
            "map that repeats lies beside what is at the other"
            if any(gap.over_border for gap in close)
            else "move these islands apart, so that color can run past both edges without meeting"
        ),
    )


def _spots(picture: Picture, close: list[Any]) -> tuple[tuple[float, float], ...]:
    """Middles of the gaps in the tile, the narrowest first; of one around the border both ends."""
    u, v = tile_corner(picture)
    found = []
    for gap in sorted(close, key=lambda g: (g.texels, g.first, g.second)):
        x, y = gap.pixel
        found.append((x, y))
        if gap.over_border:
            other = (_other_end(x, picture.width, gap.texels), _other_end(y, picture.height, gap.texels))
            found += [other] if other != (x, y) else []
    return tuple((u + x / picture.width, v + 1 - y / picture.height) for x, y in found)


def _other_end(at: float, side: int, reach: float) -> float:
    """The same place as seen from the other end of the map, when it lies no farther than `reach` texels from one end."""
    if at > side - reach:
        return at - side
    return at + side if at < reach else at


CHECK = Check(
    name="islands-too-close",
    group="UV layout",
    stage=63,
    needs=frozenset({"files", "meshes", "headers", "islands", "coverage", "spacing"}),
    looks_at=(
        "the smallest gap between islands of one picture, also around the border of a map that repeats, and to the border of a "
        "map that does not, in texels of the map"
    ),
    why="smaller versions of the map mix neighbouring texels; without room, one island's color bleeds into the next",
    put_right=(
        "move islands apart or pack with more padding; mip level n stays clean with 3 x 2 to the n - 2 texels between them, "
        "and with 2 to the n + 1 when edges lie on its grid"
    ),
    blind_spots=(
        "filters of a renderer that reach wider than box-filtered versions and linear sampling do; a map that half of the "
        "islands run past the tile of is made to repeat and is not judged; an island that meets itself around the border is "
        "taken for one whose paint goes on there, and one that fills the map from border to border needs no room to either"
    ),
    limits=(
        Limit("between_texels", "number", None, "texels", "gap between islands at least; common practice", low=0),
        Limit(
            "clean_mip",
            "integer",
            None,
            "mip level",
            "smaller version of the map in which islands may not mix, wherever their edges lie on its grid",
            low=0,
            high=12,
        ),
        Limit(
            "border_texels",
            "number",
            None,
            "texels",
            "gap at least to the border of a UDIM tile or of a map that does not repeat; common practice",
            low=0,
        ),
    ),
    level="warning",
    scope=ISLAND_SCOPE,
    run=run,
)
