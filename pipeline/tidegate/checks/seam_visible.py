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
OWN_PAINT = 0.8  # correlation along a seam by which one paint is recognised on both sides; common practice, no source


def run(facts: Facts, limits: Mapping[str, Any], scope: Scope) -> Iterator[Finding]:
    for painted, taken in painted_maps(facts, scope):
        # A few cells of a map that other things share lie beside each other by chance, unless one paint goes on over the seam.
        shared = not own_ground(painted) and painted.covered < OWN_MAP
        normal = painted.slot == "normal"
        most = limits["normal_difference" if normal else "difference"]
        broken = [
            seam
            for seam in painted.seams
            if seam.points >= limits["least_length"]
            # An even step is a choice in color, never in relief.
            and not (seam.materials if normal else seam.deliberate)
            and (taken[seam.islands[0]] or taken[seam.islands[1]])
            and (not shared or (seam.alike >= OWN_PAINT and not normal))
        ]
        shown: list[Any] = []
        lighter: list[Any] = []
        for seam in broken:
            if seam.excess > most and seam.share >= limits["share"]:
                shown.append(seam)
            elif seam.lifted > limits["lighter"]:
                lighter.append(seam)
        if not shown and not lighter:
            continue
        worst = (shown or lighter)[0]
        rows = np.array(sorted({island for seam in (*shown, *lighter) for island in seam.islands}))
        told = [(seam, seam.excess) for seam in shown] + [(seam, seam.step) for seam in lighter]
        listed = "; ".join(_pair(painted.rows, seam, by) for seam, by in told[:LISTED])
        what = "the relief breaks" if normal else "color breaks"
        if not shown:
            what = "the paint is lighter on one side and breaks"
        yield Finding(
            check="seam-visible",
            level="",
            message=f"{what} off at {count(len(told), 'seam')} on {painted.map}: {listed}",
            place=painted_place(facts, painted, rows, worst.box_a),
            measured=rounded(worst.excess if shown else worst.step, 3),
            # What the paint itself changes beside the seam may be there as well.
            wanted=most if shown else rounded(limits["lighter"] + worst.step - worst.lifted, 3),
            unit="difference",
            help="bake the normal map again over this layout, or paint across the seam on the surface"
            if normal
            else "paint across the seam on the surface, or move the seam to where two materials meet",
        )


def _pair(rows: Any, seam: Any, by: float) -> str:
    one, other = (int(rows[island]) + 1 for island in seam.islands)
    between = f"island {one} with itself" if one == other else f"islands {one} and {other}"
    return f"{between} by {number(100 * by, 2)} % of full scale"


CHECK = Check(
    name="seam-visible",
    group="what the maps show",
    stage=82,
    needs=frozenset({"files", "meshes", "headers", "islands", "pixels", "painted"}),
    looks_at="base color just inside both sides of every seam between faces that meet at less than 40 degrees, also where two "
    "materials that share the map meet, less what the paint changes over the same distance anyway, at single points and in means "
    "along the seam; normals too, turned into one frame, where the shading goes on across the seam and texels lie square on the "
    "surface",
    why="the eye finds a line that follows a cut at once",
    put_right="paint over the seam on the model, or hide it where two materials meet",
    blind_spots="noise hides steps of up to twice its own from line to line; a large even step between two islands is taken for "
    "two materials that meet; between two materials only one paint that goes on and is lighter on one side is told, and so where "
    "islands cover little of a map without a ground of its own; gentle relief changes too little",
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
            "lighter",
            "number",
            0.03,
            "difference",
            "how much lighter one side is than twice the largest step of the paint beside the seam, in means along it, of 1; "
            "common practice, no source",
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
