"""Surface on which texels are longer one way than the other."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

import numpy as np

from tidegate.model.check import Check, Limit, Scope
from tidegate.model.facts import Facts, Picture
from tidegate.model.finding import Finding, Shown
from tidegate.model.selection import ISLAND_SCOPE, island_place, painted_in, picture_name
from tidegate.model.wording import count, number, numbered, rounded

MOST_OF_IT = 0.5  # share of its own surface from which on an island is stretched as a whole
NARROW = 16.0  # texels of mean width below which an island is a strip, such as a bevel; common practice, no source


def run(facts: Facts, limits: Mapping[str, Any], scope: Scope) -> Iterator[Finding]:
    for picture, rows in painted_in(facts, scope):
        yield from _by_share(facts, limits, picture, rows)
        for column, limit, says in (
            ("stretch_l2", limits["l2"], "stretch (L2)"),
            ("stretch_worst", limits["worst"], "worst stretch"),
        ):
            if limit is not None:
                yield from _by_column(facts, picture, rows, column, limit, says)


def _by_share(facts: Facts, limits: Mapping[str, Any], picture: Picture, rows: Any) -> Iterator[Finding]:
    assert facts.unfolding is not None
    beyond = facts.unfolding.stretched_surface(limits["largest_ratio"])[rows]
    surface = facts.unfolding.judged_surface[rows]
    whole = float(surface.sum())
    share = round(float(beyond.sum()) / whole, 6) if whole > 0 else 0.0
    if share <= limits["share"]:
        yield from _whole_islands(facts, limits, picture, rows, beyond, surface)
        return
    # Islands by how much of the stretched surface they hold: the fewest that hold nearly all of it are named.
    order = np.lexsort((rows, -beyond))
    enough = int(np.searchsorted(np.cumsum(beyond[order]), 0.95 * beyond.sum())) + 1
    bad = np.sort(rows[order[:enough]])
    most = int(order[0])
    yield Finding(
        check="stretched-islands",
        level="",
        message=(
            f"{number(share * 100, 3)} % of the surface on {picture_name(picture)} stretched over "
            f"{number(limits['largest_ratio'])} to 1, on {count(len(bad), 'island')}: {numbered((bad + 1).tolist())}"
            + (f"; most of it on island {rows[most] + 1}" if len(bad) > 1 else "")
        ),
        place=island_place(facts, picture, bad),
        measured=rounded(share),
        wanted=limits["share"],
        unit="share",
        help="relax the islands or cut them where they bend; the stretch map shows where they pull",
        shown=Shown(heat="stretch_map"),
    )


def _whole_islands(
    facts: Facts, limits: Mapping[str, Any], picture: Picture, rows: Any, beyond: Any, surface: Any
) -> Iterator[Finding]:
    """Islands that are stretched themselves, though they are a small part of the map's surface; narrow strips aside."""
    assert facts.islands is not None
    if limits["whole_texels"] is None:
        return
    box = facts.islands.bounds[rows]
    longest = np.maximum((box[:, 2] - box[:, 0]) * picture.width, (box[:, 3] - box[:, 1]) * picture.height)
    texels = facts.islands.uv_area[rows] * (picture.width * picture.height)
    stretched = (beyond > MOST_OF_IT * surface) & (texels >= limits["whole_texels"]) & (texels >= NARROW * longest)
    if not stretched.any():
        return
    bad = rows[stretched]
    ratio = facts.islands.stretch_ratio[bad]
    worst = int(np.argmax(ratio))
    yield Finding(
        check="stretched-islands",
        level="note",
        message=(
            f"{count(len(bad), 'island')} stretched over {number(limits['largest_ratio'])} to 1 on more than half of "
            f"{'its' if len(bad) == 1 else 'their'} surface, on {picture_name(picture)}: {numbered((bad + 1).tolist())}; island "
            f"{bad[worst] + 1} {number(float(ratio[worst]), 3)} to 1"
        ),
        place=island_place(facts, picture, bad),
        measured=rounded(float(ratio[worst])),
        wanted=limits["largest_ratio"],
        unit="ratio",
        help="relax these islands, or scale them along their shorter side; the stretch map shows where they pull",
        shown=Shown(heat="stretch_map"),
    )


def _by_column(facts: Facts, picture: Picture, rows: Any, column: str, limit: float, says: str) -> Iterator[Finding]:
    values = getattr(facts.islands, column)[rows]
    bad = np.isfinite(values) & (values > limit)
    if bad.any():
        worst = int(np.argmax(np.where(bad, values, -1.0)))
        yield Finding(
            check="stretched-islands",
            level="",
            message=(
                f"{says} over {number(limit)} on {count(int(bad.sum()), 'island')} of {picture_name(picture)}: "
                f"{numbered((rows[bad] + 1).tolist())}; island {rows[worst] + 1} {number(float(values[worst]), 3)}"
            ),
            place=island_place(facts, picture, rows[bad]),
            measured=rounded(float(values[worst])),
            wanted=limit,
            unit="times",
            help="relax the island or cut it where it bends; an evenly scaled island has 1",
            shown=Shown(heat="stretch_map"),
        )


CHECK = Check(
    name="stretched-islands",
    group="UV layout",
    stage=62,
    needs=frozenset({"files", "meshes", "headers", "islands", "unfolding"}),
    looks_at=(
        "longest over shortest side of a texel on the surface, triangle by triangle in texels of the map, and on which "
        "share of the surface it is too much"
    ),
    why="a stretched island smears what is painted on it, and no amount of texels mends that",
    put_right="cut the island further or relax it; on a map that is not square, scale the layout to the map's ratio",
    blind_spots=(
        "triangles without UV area have no ratio and are told by another check; evenly too large or small texels are a "
        "matter of density"
    ),
    limits=(
        Limit("largest_ratio", "number", 1.5, "ratio", "longest over shortest; common practice, no source", low=1),
        Limit("share", "number", 0.0, "share", "share of the picture's surface that may exceed it", low=0, high=1),
        Limit(
            "whole_texels",
            "number",
            None,
            "texels",
            "area from which on an island stretched on more than half of its surface is noted though the share is kept; "
            "common practice, no source",
            low=0,
        ),
        Limit(
            "l2", "number", None, "times", "root mean square stretch of an island at most (Sander et al. 2001)", low=1
        ),
        Limit("worst", "number", None, "times", "largest stretch of any triangle at most (Sander et al. 2001)", low=1),
    ),
    level="warning",
    scope=ISLAND_SCOPE,
    run=run,
)
