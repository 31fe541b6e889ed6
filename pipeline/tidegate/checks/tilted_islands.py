"""Islands whose upright direction is not where the rules want it."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

import numpy as np

from tidegate.model.check import Check, Limit, Scope
from tidegate.model.facts import Facts, Picture
from tidegate.model.finding import Finding
from tidegate.model.selection import ISLAND_SCOPE, island_place, painted_in, picture_name
from tidegate.model.wording import count, number, numbered, rounded

# Where the marker may point, in degrees counter-clockwise from the tile's +U.
DIRECTIONS = {"upright": (90.0,), "sideways": (90.0, 0.0, 180.0), "any": (90.0, 0.0, 180.0, -90.0)}
IN_WORDS = {"upright": "upright", "sideways": "upright and sideways", "any": "every quarter turn"}


def run(facts: Facts, limits: Mapping[str, Any], scope: Scope) -> Iterator[Finding]:
    columns = facts.islands
    allowed = np.array(DIRECTIONS[limits["allow"]])
    for picture, rows in painted_in(facts, scope):
        assert columns is not None
        up, certainty = columns.up_degrees[rows], columns.up_certainty[rows]
        known = np.isfinite(up) & (certainty >= limits["certainty"])
        off = np.where(known, _off(up, allowed), 0.0)
        tilted = off > limits["tolerance_degrees"]
        for flip, over in _flips(columns.winding[rows] < 0):
            righted = tilted & over & (_off(flip - up, allowed) <= limits["tolerance_degrees"])
            if righted.any():
                yield _mirrored(facts, picture, rows, righted, off, flip, limits)
                tilted &= ~righted
        if tilted.any():
            worst = int(np.argmax(np.where(tilted, off, 0.0)))
            yield Finding(
                check="tilted-islands",
                level="",
                message=(
                    f"{count(int(tilted.sum()), 'island')} of {len(rows)} turned away from {IN_WORDS[limits['allow']]} on "
                    f"{picture_name(picture)}: {numbered((rows[tilted] + 1).tolist())}; farthest {number(off[worst], 3)} "
                    f"degrees"
                ),
                place=island_place(facts, picture, rows[tilted]),
                measured=rounded(float(off[worst])),
                wanted=limits["tolerance_degrees"],
                unit="degrees",
                help=f"turn island {rows[worst] + 1} by {_turn_in_words(float(up[worst]), allowed)}; "
                "the markers on the guide sheet show where up lies",
            )
        unsure = ~known
        if unsure.any() and limits["allow"] != "any":
            yield Finding(
                check="tilted-islands",
                level="note",
                message=(
                    f"cannot tell which way is up on {count(int(unsure.sum()), 'island')} of {picture_name(picture)}: "
                    f"{numbered((rows[unsure] + 1).tolist())}; their faces point up in different directions or have no area"
                ),
                place=island_place(facts, picture, rows[unsure]),
                measured=rounded(float(np.nanmin(np.nan_to_num(certainty[unsure])))),
                wanted=limits["certainty"],
                unit="certainty",
                help="look at these on the guide sheet: a dot stands where an arrow would be a guess",
                certain=False,
            )


def _off(up: Any, allowed: Any) -> Any:
    """Degrees between each marker and the allowed direction nearest to it, 0 where there is no marker. Measured values are
    rounded to nine digits, so a limit of ten degrees takes an island of exactly ten."""
    return np.nan_to_num(np.round(np.abs((up[:, None] - allowed + 180) % 360 - 180).min(axis=1), 6))


def _flips(mirrored: Any) -> Iterator[tuple[float, Any]]:
    """Ways to flip mirrored islands back: a marker at x comes to `flip` - x; and the islands that are asked. Top to bottom for
    any of them; over a diagonal, as where U and V were swapped, only where the layout is mirrored as a whole."""
    yield 0.0, mirrored
    if mirrored.all():
        yield 90.0, mirrored
        yield -90.0, mirrored


def _mirrored(
    facts: Facts, picture: Picture, rows: Any, righted: Any, off: Any, flip: float, limits: Mapping[str, Any]
) -> Finding:
    """Islands whose mirroring is what turned them: one flip back rights both."""
    what = "top to bottom" if flip == 0.0 else "over the diagonal, U and V swapped"
    return Finding(
        check="tilted-islands",
        level="",
        message=(
            f"{count(int(righted.sum()), 'island')} of {len(rows)} turned away from {IN_WORDS[limits['allow']]} by being "
            f"mirrored {what}, on {picture_name(picture)}: {numbered((rows[righted] + 1).tolist())}"
        ),
        place=island_place(facts, picture, rows[righted]),
        measured=rounded(float(off[righted].max())),
        wanted=limits["tolerance_degrees"],
        unit="degrees",
        help=f"flip them back {what.partition(',')[0]} in UV space, and turn none: then they stand right too",
        cause="mirrored-islands",
    )


def _turn_in_words(up: float, allowed: Any) -> str:
    turn = _turn(up, allowed)
    return f"{number(abs(turn), 3)} degrees {'counter-clockwise' if turn > 0 else 'clockwise'}"


def _turn(up: float, allowed: Any) -> float:
    """The smallest turn, counter-clockwise positive, that brings the marker to an allowed direction."""
    turns = (allowed - up + 180) % 360 - 180
    return float(turns[np.argmin(np.abs(turns))])


CHECK = Check(
    name="tilted-islands",
    group="UV layout",
    stage=64,
    needs=frozenset({"files", "meshes", "headers", "islands", "upright"}),
    looks_at="where the model's up lands in the tile, for every island, and how surely it does",
    why="dirt, grain and lettering are painted with gravity in mind; on a turned island they run sideways",
    put_right="turn the island so that its marker points up; leave caps and curved pieces as they lie best",
    blind_spots="lettering painted backwards or upside down on a good island; only a look at the model shows that",
    limits=(
        Limit(
            "allow",
            "choice",
            "upright",
            "",
            "upright only, or sideways too (a quarter turn), or any right angle; common practice, no source",
            choices=("upright", "sideways", "any"),
        ),
        Limit(
            "tolerance_degrees", "number", 10.0, "degrees", "allowed tilt; common practice, no source", low=0, high=180
        ),
        Limit("certainty", "number", 0.8, "share", "below this the marker is a note, never an error", low=0, high=1),
    ),
    level="warning",
    scope=ISLAND_SCOPE,
    run=run,
)
