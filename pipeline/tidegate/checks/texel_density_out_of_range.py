"""Islands with more or fewer texels per metre than wanted."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

import numpy as np

from tidegate.model.check import Check, Limit, Scope
from tidegate.model.facts import Facts, Picture
from tidegate.model.finding import Finding, Shown
from tidegate.model.selection import ISLAND_SCOPE, island_place, painted_in, picture_name
from tidegate.model.wording import count, number, numbered, rounded

SIZES = tuple(2**power for power in range(6, 15))  # texels a side of maps that may still be painted: 64 to 16,384


def run(facts: Facts, limits: Mapping[str, Any], scope: Scope) -> Iterator[Finding]:
    columns = facts.islands
    wanted, tolerance = limits["wanted"], limits["tolerance"]
    for picture, rows in painted_in(facts, scope):
        assert columns is not None
        density = columns.density[rows]
        # An island whose UV area is no more than rounding of its coordinates has a density on paper only.
        defined = np.isfinite(density) & (columns.winding[rows] != 0)
        if not defined.all():
            yield _undefined(facts, picture, rows[~defined])
        rows, density = rows[defined], density[defined]
        if not len(rows):
            continue
        if wanted is not None and picture.assumed and not picture.ordered:
            yield from _guessed(
                facts, picture, rows, density, (wanted * (1 - tolerance), wanted, wanted * (1 + tolerance))
            )
        elif wanted is not None:
            for out, worst, side in (
                (density < wanted * (1 - tolerance), np.argmin(density), "under"),
                (density > wanted * (1 + tolerance), np.argmax(density), "over"),
            ):
                if not out.any():
                    continue
                edge = wanted * (1 - tolerance) if side == "under" else wanted * (1 + tolerance)
                bad = rows[out]
                factor = wanted / density[worst]
                yield Finding(
                    check="texel-density-out-of-range",
                    level="",
                    message=(
                        f"{count(int(out.sum()), 'island')} of {len(rows)} {side} {number(edge)} px/m on "
                        f"{picture_name(picture)}: {numbered((bad + 1).tolist())}; farthest {number(density[worst])} px/m"
                    ),
                    place=island_place(facts, picture, bad),
                    measured=rounded(float(density[worst])),
                    wanted=rounded(float(wanted)),
                    exact=True,
                    unit="px/m",
                    shown=Shown(heat="density_map"),
                    help=(
                        f"scale these islands in UV space, the farthest by {number(factor, 3)}; when all islands are off by "
                        f"one factor, change the size of the map instead"
                    ),
                )
        if limits["spread"] is not None and len(rows) > 1 and not _told_one_by_one(picture, density, limits):
            ratio = float(density.max() / density.min())
            if ratio > limits["spread"]:
                ends = rows[[int(np.argmin(density)), int(np.argmax(density))]]
                yield Finding(
                    check="texel-density-out-of-range",
                    level="",
                    message=(
                        f"densities on {picture_name(picture)} spread {number(ratio, 3)} to 1: island {ends[0] + 1} has "
                        f"{number(density.min())} px/m, island {ends[1] + 1} has {number(density.max())} px/m"
                    ),
                    place=island_place(facts, picture, ends),
                    measured=rounded(ratio),
                    wanted=limits["spread"],
                    unit="ratio",
                    shown=Shown(heat="density_map"),
                    help="scale the islands to one density, so that detail looks equally sharp all over",
                )


def _told_one_by_one(picture: Picture, density: Any, limits: Mapping[str, Any]) -> bool:
    """Whether some islands are told to be out of range while others are within it: the spread between them is no news."""
    if limits["wanted"] is None or (picture.assumed and not picture.ordered):
        return False
    within = np.abs(density / limits["wanted"] - 1.0) <= limits["tolerance"]
    reach = (1.0 + limits["tolerance"]) / max(1.0 - limits["tolerance"], 1e-9)
    return bool(within.any() and not within.all() and reach <= limits["spread"])


def _guessed(
    facts: Facts, picture: Picture, rows: Any, density: Any, wanted: tuple[float, float, float]
) -> Iterator[Finding]:
    """What can be said before there is a map: its size decides, so the size that would fit is named. wanted: least, middle,
    most px/m."""
    low, middle, high = wanted
    out = (density < low) | (density > high)
    if not out.any():
        return
    fits = {
        px: int(((density * (px / picture.width) >= low) & (density * (px / picture.width) <= high)).sum())
        for px in SIZES
    }
    best = max(SIZES, key=lambda px: (fits[px], -abs(np.log2(px / picture.width))))
    worst = density[int(np.argmax(np.abs(np.log(density / middle))))]
    would = (
        f"a map of {best} would bring {fits[best]} of {len(rows)} within"
        if fits[best]
        else "no size of map brings any within"
    )
    yield Finding(
        check="texel-density-out-of-range",
        level="note",
        message=(
            f"cannot tell densities on {picture_name(picture)}: at that size {count(int(out.sum()), 'island')} of {len(rows)} "
            f"would be outside {number(low)} to {number(high)} px/m, farthest {number(worst)} px/m; {would}"
        ),
        place=island_place(facts, picture, rows[out]),
        measured=rounded(float(worst)),
        wanted=rounded(float(middle)),
        exact=True,
        unit="px/m",
        help=(
            "paint the map at the size that fits, or scale the islands; a size that is ordered, or set as `assumed_map_px`, "
            "is what a prop without maps is measured at"
        ),
        certain=False,
    )


def _undefined(facts: Facts, picture: Picture, rows: Any) -> Finding:
    return Finding(
        check="texel-density-out-of-range",
        level="note",
        message=(
            f"cannot tell the density of {count(len(rows), 'island')} on {picture_name(picture)} without any surface: "
            f"{numbered((rows + 1).tolist())}"
        ),
        place=island_place(facts, picture, rows),
        measured="undefined",
        unit="px/m",
        help="remove these faces from the mesh: they have a place on the map and no surface in the model",
        certain=False,
    )


CHECK = Check(
    name="texel-density-out-of-range",
    group="UV layout",
    stage=62,
    needs=frozenset({"files", "meshes", "headers", "islands"}),
    looks_at="texels per metre of every island, for the map it is painted on, and how far the islands of one map spread",
    why="a prop sharper or blurrier than its neighbours is seen at once, and too much wastes memory",
    put_right="scale the islands that are off; when all are off by one factor, the map size or the unit is wrong",
    blind_spots=(
        "density says nothing of what was painted; a blurred picture in many texels stays blurred. Palettes and faces "
        "without UV area have no density and are told by another check. Before there is a map its size is a guess, so "
        "what would be off is a note, unless the order list states the size"
    ),
    limits=(
        Limit("wanted", "number", None, "px/m", "wanted texels per metre; common practice, no source", low=0),
        Limit("tolerance", "number", 0.25, "share", "allowed share above and below; common practice, no source", low=0),
        Limit("spread", "number", None, "ratio", "densest over least dense island of a map at most", low=1),
    ),
    scope=ISLAND_SCOPE,
    run=run,
)
