"""A map whose paint lies where another layout has its islands."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import Any

import numpy as np
from numpy.typing import NDArray

from tidegate.model.check import Check, Limit, Scope
from tidegate.model.facts import Facts
from tidegate.model.finding import Finding, Shown
from tidegate.model.painted_rows import PAINT_SCOPE, painted_maps, painted_place
from tidegate.model.wording import number, one_of, rounded

NAMED = ("turned", "moved", "another layout")
COVERED = 0.97  # share of the islands that a position has to cover to be named, as in the fit of a map to its layout


def run(facts: Facts, limits: Mapping[str, Any], scope: Scope) -> Iterator[Finding]:
    left = [pair for pair in painted_maps(facts, scope) if _told(pair[0].fit, limits["spilled"])]
    asked = [pair for pair in left if pair[0].slot in limits["slots"]]
    done: set[int] = set()
    for painted, taken in sorted(asked, key=lambda pair: limits["slots"].index(pair[0].slot)):
        if id(painted) in done:
            continue
        alike = [one for one, _ in left if id(one) not in done and _lie_alike(painted, one)]
        done.update(id(one) for one in alike)
        yield _finding(facts, limits, painted, taken, [one for one in alike if one.map != painted.map])


def _told(found: Any, most: float) -> bool:
    """Named; where paint lies far beyond the islands in every position it belongs to other things on the same map."""
    return found is not None and found.verdict in NAMED and found.best.spilled <= most


def _lie_alike(one: Any, other: Any) -> bool:
    """Two maps of one picture of which the same is said: one fault, made once."""
    said = (one.picture, one.fit.verdict) == (other.picture, other.fit.verdict)
    return said and bool(_positions(one.fit) & _positions(other.fit))


def _positions(found: Any) -> set[tuple[str, str, tuple[float, float]]]:
    """Where the paint fits; the layout as it is where none at hand does."""
    return {(one.layout, one.change, one.shift) for one in (found.best, *found.equals)}


def _finding(
    facts: Facts, limits: Mapping[str, Any], painted: Any, taken: NDArray[np.bool_], others: Sequence[Any]
) -> Finding:
    """others: further maps of which the same is said."""
    found, own, best = painted.fit, painted.fit.own, painted.fit.best
    known = found.verdict != "another layout" or bool(best.layout)
    says = f"{number(100 * own.covered, 3)} % of the islands are painted on {painted.map}"
    says += f", and {number(100 * own.spilled, 3)} % of what lies far from them" if not known else ""
    says += f", {number(100 * best.covered, 3)} % {_where(best)}" if known else ""
    says += f": it {'is' if known else 'may be'} painted for another layout"
    maps = sorted({one.map for one in others})
    if maps:
        says += f", and so {'may' if not known else 'is' if len(maps) == 1 else 'are'} {one_of(maps, 'and')}"
        says += "" if known else " be"
    theirs = f"that one is {_position(best)}" if not best.layout else f"that of {best.layout}"
    # A turn or flip that covers the islands, where the layout as it is leaves many bare, is no chance.
    leave_bare = [one.fit.own.covered for one in (painted, *others) if one.slot in limits["slots"]]
    sure = found.verdict == "turned" and min(leave_bare) < limits["as_it_is"]
    return Finding(
        check="painted-for-another-layout",
        level="" if sure else "warning",
        message=says,
        place=painted_place(facts, painted, np.flatnonzero(taken)),
        **_figures(own.covered, best.covered),
        shown=Shown(over="outlines"),
        help=f"export the map{'s' if maps else ''} for this layout, or bring back the layout {'they were' if maps else 'it was'} "
        f"painted for: {theirs}"
        if known
        else "look whether this is the map of this prop and of this version of its layout",
        certain=known,
        also_maps=tuple(maps),
    )


def _figures(own: float, best: float) -> dict[str, Any]:
    """Painted shares of the islands to compare; nothing where this layout has as much paint and only lies beside other paint."""
    if own < COVERED:
        return {"measured": rounded(own, 4), "wanted": COVERED, "unit": "share"}
    return {"measured": rounded(own, 4), "wanted": rounded(best, 4), "unit": "share"} if own < best else {}


def _where(best: Any) -> str:
    """The position or the other layout that the paint fits."""
    if not best.layout:
        return f"when the layout is {_position(best)}"
    moved = f" {_position(best)}" if best.shift != (0.0, 0.0) else ""
    return f"of those of {best.layout}{moved}"


def _position(best: Any) -> str:
    words = [] if best.change == "as it is" else [best.change]
    if best.shift != (0.0, 0.0):
        words.append(
            f"moved by {number(best.shift[0], 3)} of the tile to the right and {number(best.shift[1], 3)} down"
        )
    return " and ".join(words) or "as it is"


CHECK = Check(
    name="painted-for-another-layout",
    group="what the maps show",
    stage=80,
    needs=frozenset({"files", "meshes", "headers", "islands", "pixels", "painted"}),
    looks_at="whether the painted area of a map is this layout's, or this layout's turned, mirrored or moved, or that of another "
    "material of the prop, of another prop of the drop, or of the version delivered before",
    why="another prop's map, or the map of the layout before last, fits the file names and nothing else",
    put_right="put the map of this layout there",
    blind_spots="maps that are painted all over or too plain cannot be told; a layout that is not at hand is only suspected, and "
    "only where ground and paint are plain to see",
    limits=(
        Limit(
            "spilled",
            "number",
            0.5,
            "share",
            "of the texels far from the islands that may be painted before the map counts as shared; common practice, no source",
            low=0,
            high=1,
        ),
        Limit(
            "as_it_is",
            "number",
            0.9,
            "share",
            "of the islands that must be painted as they lie for a turned or mirrored map to be a warning and no more; what is "
            "moved or may be meant for another layout always is; common practice, no source",
            low=0,
            high=1,
        ),
        Limit(
            "slots",
            "texts",
            ["base_color"],
            "",
            "slots whose maps are held against the layout; common practice, no source",
        ),
    ),
    scope=PAINT_SCOPE,
    run=run,
)
