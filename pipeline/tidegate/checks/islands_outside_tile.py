"""Islands that leave the tile they may lie in."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

import numpy as np

from tidegate.model.amounts import one_or_many
from tidegate.model.check import Check, Limit, Scope
from tidegate.model.facts import Facts, IslandColumns, Picture
from tidegate.model.finding import Finding
from tidegate.model.selection import ISLAND_SCOPE, island_place, painted_in, picture_name, repeating
from tidegate.model.wording import count, number, numbered, one_of, rounded

SIDES = ("left", "lower", "right", "upper")


def run(facts: Facts, limits: Mapping[str, Any], scope: Scope) -> Iterator[Finding]:
    columns = facts.islands
    if limits["repeat"]:
        return
    tiles = [int(tile) for tile in limits["tiles"]]
    stacks = {id(cover.picture): cover.stacks for cover in facts.coverage} if limits["twins_outside"] else {}
    for picture, rows in painted_in(facts, scope):
        assert columns is not None
        crossing = ~columns.inside[rows]
        allowed = [*tiles, picture.tile] if limits["tiles_with_map"] and _has_a_map(picture) else tiles
        misplaced = ~np.isin(columns.tile[rows], allowed) & ~crossing
        misplaced &= ~np.isin(rows, _twins(columns, picture, stacks.get(id(picture), ())))
        if crossing.any():
            yield _across(facts, picture, rows, rows[crossing])
        if misplaced.any():
            yield _misplaced(facts, picture, rows, rows[misplaced], tiles)


def _twins(columns: IslandColumns, picture: Picture, stacks: tuple[tuple[int, ...], ...]) -> list[int]:
    """Islands that lie exactly on one in the first tile once they are moved back by whole tiles: put aside so that a bake sees
    each place once, and painted from the same texels where the map repeats."""
    if not all(repeating(picture)):
        return []
    at_home = columns.inside & (columns.corner == 0).all(axis=1)
    return [row for stack in stacks if at_home[list(stack)].any() for row in stack]


def _has_a_map(picture: Picture) -> bool:
    """It is a tile of a map that comes in tiles, and the drop holds the file of this one."""
    return not picture.repeats and picture.driving_slot in dict(picture.files)


def _across(facts: Facts, picture: Picture, rows: Any, out: Any) -> Finding:
    """Islands that cross a border of the tile that their middle lies in."""
    columns = facts.islands
    assert columns is not None
    box = columns.bounds[out] - np.tile(columns.corner[out], 2)
    texels = np.array([picture.width, picture.height, picture.width, picture.height])
    over = np.concatenate([-box[:, :2], box[:, 2:] - 1.0], axis=1) * texels
    worst, side = (int(i) for i in np.unravel_index(int(np.argmax(over)), over.shape))
    which = f"island {out[worst] + 1} " if len(out) > 1 else ""
    farthest = float(over[worst, side])
    return Finding(
        check="islands-outside-tile",
        level="",
        message=(
            f"{count(len(out), 'island')} of {len(rows)} across the border of the tile on {picture_name(picture)}: "
            f"{numbered((out + 1).tolist())}; {'farthest ' if which else ''}{which}{number(farthest, 3)} "
            f"{one_or_many(farthest, 'texels')} over the {SIDES[side]} border"
        ),
        place=island_place(facts, picture, out),
        measured=rounded(farthest),
        wanted=0,
        unit="texels",
        help="move the islands into the tile, or allow repeat by rule where the map is meant to tile",
    )


def _misplaced(facts: Facts, picture: Picture, rows: Any, out: Any, tiles: list[int]) -> Finding:
    columns = facts.islands
    assert columns is not None
    lie_in = sorted(set(columns.tile[out].tolist()))
    named = one_of([str(tile) for tile in lie_in[:8]], "and")
    says, where = f"in tile {named}, which is not allowed", f", on {picture_name(picture)}"
    if lie_in == [0]:
        named, says = "", "beyond all tiles that have a number"
    elif not picture.repeats and not _has_a_map(picture):
        says, where = f"in tile {named}, for which there is no map", f" beside {picture.key.rpartition(' tile ')[0]}"
    wanted = one_of([str(tile) for tile in tiles])
    other = "allow repeat by rule where the map is meant to tile" if picture.repeats else f"hand over a map for {named}"
    return Finding(
        check="islands-outside-tile",
        level="",
        message=(f"{count(len(out), 'island')} of {len(rows)} {says}{where}: {numbered((out + 1).tolist())}"),
        place=island_place(facts, picture, out),
        measured=", ".join(str(tile) for tile in lie_in[:8]),
        wanted=", ".join(str(tile) for tile in tiles),
        unit="UDIM",
        help=f"move the islands into tile {wanted}" + (f", or add {named} to `tiles`, or {other}" if named else ""),
    )


CHECK = Check(
    name="islands-outside-tile",
    group="UV layout",
    stage=60,
    needs=frozenset({"files", "meshes", "headers", "islands", "coverage"}),
    looks_at=(
        "the UV box of every island against the borders of its tile, and its tile against those allowed (UDIM numbers) and "
        "those whose map is there"
    ),
    why="what lies outside repeats the map from the other side, or shows nothing",
    put_right="move or scale the island into the tile",
    blind_spots="less than a hundredth of a texel over a border, which nobody sees",
    limits=(
        Limit("tiles", "numbers", [1001], "UDIM", "allowed tiles, 1001 is the first"),
        Limit("tiles_with_map", "boolean", True, "", "a tile whose own map the drop holds is allowed too"),
        Limit(
            "twins_outside",
            "boolean",
            False,
            "",
            "an island may lie in another tile where, moved back by whole tiles, it lies exactly on one in the first and the map "
            "repeats; common practice, no source",
        ),
        Limit("repeat", "boolean", False, "", "islands may leave the tile, because the map is made to repeat"),
    ),
    scope=ISLAND_SCOPE,
    run=run,
)
