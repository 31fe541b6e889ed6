"""Texels that two places of the surface share by accident."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

import numpy as np

from tidegate.model.check import Check, Limit, Scope
from tidegate.model.facts import Facts, Picture
from tidegate.model.finding import Finding, Shown
from tidegate.model.selection import (
    ISLAND_SCOPE,
    island_place,
    made_to_repeat,
    painted_in,
    picture_name,
    repeating,
    tile_corner,
)
from tidegate.model.wording import count, number, numbered

MOST = 8  # places of one picture told one by one, the largest first; further ones are told together
FOLDED = (
    1.1  # times the area of an island's folded triangles: what shares more texels runs over itself without being folded
)
MOST_SHOWN = 50  # places of one finding that a picture may ring


def run(facts: Facts, limits: Mapping[str, Any], scope: Scope) -> Iterator[Finding]:
    columns = facts.islands
    covered = {id(c.picture): c for c in facts.coverage}
    for picture, rows in painted_in(facts, scope):
        cover = covered.get(id(picture))
        if cover is None:
            continue
        assert columns is not None and facts.unfolding is not None
        if limits["wrap"] and any(repeating(picture)) and not columns.inside[picture.islands].all():
            yield from _wrapped(facts, picture, rows, cover.stacks if limits["allow_stacks"] else (), limits)
            continue
        level = "note" if made_to_repeat(columns, picture) else ""
        found = [
            group
            for group in cover.overlaps
            if np.isin(group.islands, rows).any() and group.texels > limits["allowed_texels"]
        ]
        stacks = [group for group in found if group.stack]
        if stacks and not limits["allow_stacks"]:
            yield _stacked(facts, picture, stacks, level, limits)
        others = sorted((group for group in found if not group.stack), key=lambda g: (-g.texels, g.islands))
        for group in others[:MOST]:
            yield _overlap(facts, picture, group, level, limits, cover.stacks)
        for alone in (False, True):
            rest = [group for group in others[MOST:] if (len(group.islands) == 1) == alone]
            if rest:
                yield _the_rest(facts, picture, rest, level, limits)


def _wrapped(
    facts: Facts, picture: Picture, rows: Any, meant: tuple[tuple[int, ...], ...], limits: Mapping[str, Any]
) -> Iterator[Finding]:
    """One finding for all that overlaps when the picture is repeated. meant: stacks that pass, unless larger than the tile."""
    assert facts.unfolding is not None and facts.islands is not None
    box = facts.islands.bounds
    larger = np.any(box[:, 2:] - box[:, :2] > 1.0, axis=1)
    pass_by = [set(stack) for stack in meant if not larger[list(stack)].any()]
    groups, complete = facts.unfolding.wrapped_overlap(picture)
    found = [g for g in groups if g[1] > limits["allowed_texels"] and np.isin(g[0], rows).any()]
    found = [g for g in found if not any(stack.issuperset(g[0]) for stack in pass_by)]
    if not found and not complete:
        yield Finding(
            check="overlapping-islands",
            level="note",
            message=f"cannot tell what overlaps on {picture_name(picture)}: islands repeat it too often to count",
            place=island_place(facts, picture, rows),
            help="look at the layout: long strips span very many tiles",
            certain=False,
        )
    if found:
        islands = np.array(sorted({row for group, _ in found for row in group}), dtype=np.int64)
        texels = sum(shared for _, shared in found)
        yield Finding(
            check="overlapping-islands",
            level="",
            message=(
                f"{count(len(islands), 'island')} overlap where {picture_name(picture)} repeats: "
                f"{numbered((islands + 1).tolist())}; {'' if complete else 'at least '}{count(texels, 'texel')} shared"
            ),
            place=island_place(facts, picture, islands),
            measured=texels,
            wanted=limits["allowed_texels"],
            unit="texels",
            shown=Shown(shared=True),
            help="keep what has to be unique within one tile's width and height, or do not count over the border",
        )


def _stacked(facts: Facts, picture: Picture, stacks: list[Any], level: str, limits: Mapping[str, Any]) -> Finding:
    islands, texels = _together(stacks)
    places = "" if len(stacks) == 1 else f" in {len(stacks)} places"
    return Finding(
        check="overlapping-islands",
        level=level,
        message=(
            f"{count(len(islands), 'island')} lie exactly on each other{places} on {picture_name(picture)}: "
            f"{numbered((islands + 1).tolist())}; {count(texels, 'texel')} shared"
        ),
        place=island_place(facts, picture, islands),
        measured=texels,
        wanted=limits["allowed_texels"],
        unit="texels",
        shown=Shown(shared=True, around=_around(picture, stacks)),
        help="move them apart, or allow stacks by rule where the same paint is meant for all of them",
    )


def _overlap(
    facts: Facts,
    picture: Picture,
    group: Any,
    level: str,
    limits: Mapping[str, Any],
    stacks: tuple[tuple[int, ...], ...],
) -> Finding:
    islands = np.array(group.islands, dtype=np.int64)
    what, help, cause = "overlap", "move them apart", ""
    if len(islands) == 1 and group.texels <= FOLDED * facts.unfolding.folded_texels[islands[0]]:
        # Where an island lies twice on itself because triangles were folded over, one of the layers is folded.
        what, help, cause = "overlaps itself", "unfold the triangles that are folded over", "folded-triangles"
    elif len(islands) == 1:
        what, help = "overlaps itself", "cut the island where it runs over itself, or unfold it"
    elif group.apart <= limits["near_texels"]:
        what = f"nearly lie on each other, up to {number(group.apart, 3)} texels apart,"
        help = "lay them exactly on each other if they are to share their paint, or move them apart"
        if odd := _odd_ones(group.islands, stacks):
            what = f"nearly lie on each other, {_names(odd)} up to {number(group.apart, 3)} texels off the stack of the others,"
            help = f"lay {_names(odd)} exactly on the others, or move {'it' if len(odd) == 1 else 'them'} apart"
    elif group.one_shape:
        what = "of one shape overlap"
        help = "move them apart, or lay them exactly on each other, turned alike, if they are to share their paint"
    return Finding(
        check="overlapping-islands",
        level=level,
        message=(
            f"{count(len(islands), 'island')} {what} on {picture_name(picture)}: {numbered((islands + 1).tolist())}; "
            f"{count(group.texels, 'texel')} shared"
        ),
        place=island_place(facts, picture, islands),
        measured=group.texels,
        wanted=limits["allowed_texels"],
        unit="texels",
        shown=Shown(shared=True, around=_around(picture, [group])),
        help=help,
        each_alone=len(islands) == 1,
        cause=cause,
    )


def _odd_ones(islands: tuple[int, ...], stacks: tuple[tuple[int, ...], ...]) -> list[int]:
    """Islands of a near stack that miss the exact stack which most of the group lie in; none where there is no such one."""
    largest = max((stack for stack in stacks if set(stack) <= set(islands)), key=len, default=())
    return sorted(set(islands) - set(largest)) if 2 * len(largest) > len(islands) else []


def _names(rows: list[int]) -> str:
    return "island" + numbered([row + 1 for row in rows]).removeprefix("number")  # "island 38", "islands 38-40"


def _the_rest(facts: Facts, picture: Picture, groups: list[Any], level: str, limits: Mapping[str, Any]) -> Finding:
    """groups: of one island each, or of several each."""
    islands, texels = _together(groups)
    alone = len(groups[0].islands) == 1
    if alone:
        what = (
            f"{count(len(islands), 'more island')} {'overlaps itself' if len(islands) == 1 else 'overlap themselves'}"
        )
    else:
        what = f"{count(len(islands), 'island')} overlap in {count(len(groups), 'smaller place')} more"
    return Finding(
        check="overlapping-islands",
        level=level,
        message=f"{what} on {picture_name(picture)}: {numbered((islands + 1).tolist())}; {count(texels, 'texel')} shared",
        place=island_place(facts, picture, islands),
        measured=texels,
        wanted=limits["allowed_texels"],
        unit="texels",
        shown=Shown(shared=True, around=_around(picture, groups)),
        help="cut the islands where they run over themselves, or unfold them" if alone else "move them apart",
        each_alone=alone,
    )


def _around(picture: Picture, groups: list[Any]) -> tuple[tuple[float, float, float, float], ...]:
    """Boxes about the shared texels in the tile, V up, the largest group first."""
    u, v = tile_corner(picture)
    wide, high = picture.width, picture.height
    boxes = [group.box for group in sorted(groups, key=lambda group: (-group.texels, group.islands))[:MOST_SHOWN]]
    return tuple((u + x0 / wide, v + 1 - y1 / high, u + x1 / wide, v + 1 - y0 / high) for x0, y0, x1, y1 in boxes)


def _together(groups: list[Any]) -> tuple[Any, int]:
    """Rows of all islands of some groups, ascending, and the texels they share."""
    rows = np.array(sorted({row for group in groups for row in group.islands}), dtype=np.int64)
    return rows, sum(group.texels for group in groups)


CHECK = Check(
    name="overlapping-islands",
    group="UV layout",
    stage=61,
    needs=frozenset({"files", "meshes", "headers", "islands", "coverage", "unfolding"}),
    looks_at="texels covered more than once, at the size of the map, by islands of one picture",
    why="what is painted for one face shows up on another, and baked light is spoiled",
    put_right=(
        "move the islands apart; stack on purpose only whole islands whose outlines fall on each other, turned or mirrored as "
        "they may be; one that misses by more than 0.05 texel is none"
    ),
    blind_spots=(
        "an overlap thinner than a texel, which no texel centre sees; on a map that half of the islands run past the tile "
        "of, overlap is a note; what comes in again over the border of a map that repeats counts only by the limit `wrap`"
    ),
    limits=(
        Limit("allowed_texels", "integer", 0, "texels", "shared texels of a group that are still let pass", low=0),
        Limit(
            "near_texels",
            "number",
            4.0,
            "texels",
            "outlines of overlapping islands that lie no further apart were meant as a stack; common practice, no source",
            low=0,
        ),
        Limit(
            "wrap",
            "boolean",
            False,
            "",
            "on a map that repeats, what lies beyond the border is counted where it comes in again; off, since islands that "
            "may leave the tile share their paint on purpose, and others are told by `islands-outside-tile`",
        ),
        Limit("allow_stacks", "boolean", False, "", "islands that lie exactly on each other are meant so"),
    ),
    scope=ISLAND_SCOPE,
    run=run,
)
