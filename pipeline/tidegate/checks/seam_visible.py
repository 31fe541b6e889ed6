"""Color or relief that does not go on across a seam."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

import numpy as np

from tidegate.model.check import Check, Limit, Scope
from tidegate.model.facts import Facts
from tidegate.model.finding import Finding
from tidegate.model.painted_rows import PAINT_SCOPE, own_ground, painted_maps, painted_place
from tidegate.model.wording import count, number, rounded

LISTED = 3
OWN_MAP = 0.3  # share of a map without ground that islands must cover to be what it was painted for; common practice, no source


def run(facts: Facts, limits: Mapping[str, Any], scope: Scope) -> Iterator[Finding]:
    for painted, taken in painted_maps(facts, scope):
        if not own_ground(painted) and painted.covered < OWN_MAP:
            continue  # a few cells of a map that other things share
        normal = painted.slot == "normal"
        most = limits["normal_difference" if normal else "difference"]
        shown = [
            seam
            for seam in painted.seams
            if seam.excess > most
            and seam.share >= limits["share"]
            and seam.points >= limits["least_length"]
            and not (
                seam.materials if normal else seam.deliberate
            )  # an even step is a choice in color, never in relief
            and (taken[seam.islands[0]] or taken[seam.islands[1]])
        ]
        if not shown:
            continue
        worst = shown[0]
        rows = np.array(sorted({island for seam in shown for island in seam.islands}))
        listed = "; ".join(_pair(painted.rows, seam) for seam in shown[:LISTED])
        yield Finding(
            check="seam-visible",
            level="",
            message=f"{'the relief' if normal else 'color'} breaks off at {count(len(shown), 'seam')} on {painted.map}: {listed}",
            place=painted_place(facts, painted, rows, worst.box_a),
            measured=rounded(worst.excess, 3),
            wanted=most,
            unit="difference",
            help="bake the normal map again over this layout, or paint across the seam on the surface"
            if normal
            else "paint across the seam on the surface, or move the seam to where two materials meet",
        )


def _pair(rows: Any, seam: Any) -> str:
    one, other = (int(rows[island]) + 1 for island in seam.islands)
    between = f"island {one} with itself" if one == other else f"islands {one} and {other}"
    return f"{between} by {number(100 * seam.excess, 2)} % of full scale"


CHECK = Check(
    name="seam-visible",
    group="what the maps show",
    stage=82,
    needs=frozenset({"files", "meshes", "headers", "islands", "pixels", "painted"}),
    looks_at="base color just inside both sides of every seam between faces that meet at less than 40 degrees, also where two "
    "materials that share the map meet, less what the paint changes over the same distance anyway; normals too, turned into one "
    "frame, where the shading goes on across the seam and texels lie square on the surface",
    why="the eye finds a line that follows a cut at once",
    put_right="paint over the seam on the model, or hide it where two materials meet",
    blind_spots="fine noise hides small steps; a large even step between two islands is taken for two materials that meet; "
    "between two materials only one paint that goes on and is lighter on one side is told; gentle relief changes too little",
    limits=(
        Limit(
            "difference",
            "number",
            0.06,
            "difference",
            "mean over the seam of the largest channel, of 1; common practice, no source",
            low=0,
            high=1,
        ),
        Limit(
            "normal_difference",
            "number",
            0.04,
            "difference",
            "the same for normals, of 1, which is from -1 to 1 in the map; common practice, no source",
            low=0,
            high=1,
        ),
        Limit(
            "share",
            "number",
            0.5,
            "share",
            "of the seam along which it has to show; common practice, no source",
            low=0,
            high=1,
        ),
        Limit(
            "least_length", "integer", 16, "texels", "shorter seams are left alone; common practice, no source", low=1
        ),
    ),
    level="note",
    scope=PAINT_SCOPE,
    run=run,
)
