"""Places inside an island that nobody painted."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

import numpy as np
from numpy.typing import NDArray

from tidegate.model.check import Check, Limit, Scope
from tidegate.model.facts import Facts
from tidegate.model.finding import Finding, Shown
from tidegate.model.painted_rows import FADES, PAINT_SCOPE, own_ground, painted_maps, painted_place, untold_share
from tidegate.model.wording import count, number, numbered, rounded

OWN = 0.5  # share of a place that must be the ground's own color where the map was packed with loss; common practice, no source

WHOLE = 0.98  # share of an island's texels that show the ground where nothing else is on it; common practice, no source
ONE_PLACE = (
    0.5  # share of an island's bare texels that lie in one place where bare edges are many; common practice, no source
)


def run(facts: Facts, limits: Mapping[str, Any], scope: Scope) -> Iterator[Finding]:
    for painted, taken in painted_maps(facts, scope):
        if painted.slot not in limits["slots"]:
            continue
        untold = untold_share(painted)
        if untold > limits["untold"]:
            yield _untold(facts, painted, taken, untold, limits["untold"])
        if painted.holes is None or not own_ground(painted):
            continue
        found = painted.unpainted
        bare = taken & (found.share > limits["share"]) & (found.inside >= limits["least_island"])
        # Scattered texels along an edge are a matter of sampling: one place has to be large enough to see.
        holes = (found.worst_texels >= limits["least_place"]) & bare[found.worst_island]
        holes &= (painted.holes.fading <= FADES) & (painted.holes.own >= OWN)
        if not painted.ground.few_edges and holes.any():
            # Many places all over an island may be a coat that its paint leaves open.
            holes &= found.worst_texels >= ONE_PLACE * found.texels[found.worst_island]
            if not holes.any() and painted.ground.shown > limits["untold"]:
                yield _untold(facts, painted, taken, painted.ground.shown, limits["untold"])
        if not holes.any():
            continue
        at = np.unique(found.worst_island[holes])
        place = int(np.flatnonzero(holes)[0])
        worst = int(found.worst_island[place])
        # Where many edges show the ground, islands of nothing else may be meant to have its color: white parts on a white ground.
        on_whole = found.texels[at][found.share[at] >= WHOLE].sum()
        meant = not painted.ground.few_edges and bool(2 * on_whole > found.texels[at].sum())
        black = max(painted.ground.color[:3]) == 0  # also what a bake leaves in hidden places
        yield Finding(
            check="unpainted-texels",
            level="note" if black else "warning" if meant else "",
            message=(
                f"the ground of {painted.map} shows inside {count(len(at), 'island')}: "
                f"{numbered((painted.rows[at] + 1).tolist())}; most on island {painted.rows[worst] + 1}, "
                f"{number(100 * float(found.share[worst]), 3)} % of it"
            ),
            place=painted_place(facts, painted, at, found.worst_box[place]),
            measured=rounded(float(found.share[worst]), 4),
            wanted=limits["share"],
            unit="share",
            help="paint these places, or export the map again with all layers shown"
            + ("; leave them where they are meant to have the color of the ground" if meant else ""),
        )


def _untold(facts: Facts, painted: Any, taken: NDArray[np.bool_], share: float, most: float) -> Finding:
    return Finding(
        check="unpainted-texels",
        level="note",
        message=f"cannot tell: {number(100 * share, 2)} % of the islands show the color that fills the rest of {painted.map}: "
        "bare places, or a plain coat",
        place=painted_place(facts, painted, np.flatnonzero(taken)),
        shown=Shown(over="outlines"),
        measured=rounded(share, 4),
        wanted=most,
        unit="share",
        help="look whether these places were meant to stay so, and whether this is the map of this layout",
        certain=False,
    )


CHECK = Check(
    name="unpainted-texels",
    group="what the maps show",
    stage=81,
    needs=frozenset({"files", "meshes", "headers", "islands", "pixels", "painted"}),
    looks_at="texels inside islands that show the color the map has far from every island",
    why="the hole is on the surface for everyone to see",
    put_right="paint the place and save the map again",
    blind_spots="a hole in another color than the ground, or in paint that is nearly of its color; in a JPEG a hole of a few "
    "texels; islands of nothing but the ground are a warning where many edges show it, since they may be meant so; on a black "
    "ground it is a note: a bake leaves hidden places black; maps painted all over, shared by many things or made to repeat are "
    "left alone",
    limits=(
        Limit("share", "number", 0.01, "share", "of an island at most; common practice, no source", low=0, high=1),
        Limit(
            "least_place", "integer", 16, "texels", "smaller places are left alone; common practice, no source", low=1
        ),
        Limit(
            "least_island", "integer", 16, "texels", "smaller islands are left alone; common practice, no source", low=1
        ),
        Limit(
            "untold",
            "number",
            0.02,
            "share",
            "of all islands at most that may show the color of the rest of the map where it cannot be told from a plain coat; "
            "common practice, no source",
            low=0,
            high=1,
        ),
        Limit(
            "slots",
            "texts",
            ["base_color", "normal"],
            "",
            "slots whose maps are held to it; common practice, no source",
        ),
    ),
    scope=PAINT_SCOPE,
    run=run,
)
