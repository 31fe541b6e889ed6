"""Paint that stops too near an island's edge."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

import numpy as np
from numpy.typing import NDArray

from tidegate.model.check import Check, Limit, Scope
from tidegate.model.facts import Facts
from tidegate.model.finding import Finding, Shown
from tidegate.model.painted_rows import FADES, PAINT_SCOPE, own_ground, painted_maps, painted_place
from tidegate.model.wording import count, numbered


def run(facts: Facts, limits: Mapping[str, Any], scope: Scope) -> Iterator[Finding]:
    for painted, taken in painted_maps(facts, scope):
        if painted.slot not in limits["slots"] or not own_ground(painted):
            continue
        narrow = _narrow(painted, painted.bleed, limits) & taken
        if narrow.any():
            yield _finding(facts, painted, painted.bleed, narrow, limits["texels"])
        if painted.around is not None:
            beyond = _narrow(painted, painted.around, limits) & taken & ~narrow
            if beyond.any():
                yield _finding(facts, painted, painted.around, beyond, limits["texels"], around=True)


def _narrow(painted: Any, found: Any, limits: Mapping[str, Any]) -> NDArray[np.bool_]:
    """Islands past which the paint stops too soon."""
    narrow = (found.depth < limits["texels"]) & (found.texels > 0) & found.can_tell & (found.run > 0)
    return np.asarray(narrow & (painted.unpainted.inside >= limits["least_island"]) & (painted.fading <= FADES))


def _finding(
    facts: Facts, painted: Any, found: Any, narrow: NDArray[np.bool_], texels: int, around: bool = False
) -> Finding:
    at = np.flatnonzero(narrow)
    # The longest bare edge of the least depth is where to look first.
    worst = int(at[np.lexsort((at, -found.run[at], found.depth[at]))[0]])
    where = ", around the border at which the map is repeated" if around else ""
    return Finding(
        check="bleed-too-narrow",
        level="warning" if around else "",
        message=(
            f"paint reaches less than {count(texels, 'texel')} past {count(len(at), 'island')} on "
            f"{painted.map}{where}: {numbered((painted.rows[at] + 1).tolist())}; least is {found.depth[worst]} at island "
            f"{painted.rows[worst] + 1}, bare along about {count(int(found.run[worst]), 'texel')}"
        ),
        place=painted_place(facts, painted, at, found.run_box[worst]),
        shown=Shown(texel=(int(found.run_at[worst][0]), int(found.run_at[worst][1]))),
        measured=int(found.depth[worst]),
        wanted=texels,
        unit="texels",
        help=(
            "move these islands away from the border, carry the color on at the other end of the map, or let the material end "
            "the map there"
            if around
            else "carry the color past the edges of these islands, or let the export spread it; where islands stand nearer "
            "than twice that, move them apart first"
        ),
    )


CHECK = Check(
    name="bleed-too-narrow",
    group="what the maps show",
    stage=81,
    needs=frozenset({"files", "meshes", "headers", "islands", "pixels", "painted"}),
    looks_at="how many texels the paint goes on past each island's edge before the ground of the map shows; "
    "where a map is repeated, also around its border, which is a warning at most",
    why="smaller versions of a map mix neighbouring texels, so the ground shows as a line along every seam from afar",
    put_right="spread the paint over the edges before the map is saved",
    blind_spots="paint of the color of the ground or that fades into it; maps painted all over, shared by many things or made to "
    "repeat are left alone",
    limits=(
        Limit(
            "texels",
            "integer",
            5,
            "texels",
            "paint past the edge at least; 1, 2, 5, 11 keep mip levels 0, 1, 2, 3 clean at any alignment of the edge, derived "
            "from box-filtered levels and bilinear reading",
            low=1,
            high=30,
        ),
        Limit(
            "slots",
            "texts",
            ["base_color", "normal", "roughness", "metalness", "occlusion", "emission"],
            "",
            "slots whose maps are held to it; common practice, no source",
        ),
        Limit(
            "least_island", "integer", 16, "texels", "smaller islands are left alone; common practice, no source", low=1
        ),
    ),
    scope=PAINT_SCOPE,
    run=run,
)
