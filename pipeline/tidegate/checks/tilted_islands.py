"""Islands whose upright direction is not where the rules want it."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

import numpy as np

from tidegate.model.check import Check, Limit, Scope
from tidegate.model.facts import Facts
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
        off = np.zeros(len(rows))
        turned = np.abs((up[known, None] - allowed + 180) % 360 - 180)
        off[known] = turned.min(axis=1) if len(turned) else 0.0
        # Measured values are rounded to nine digits, so a limit of ten degrees takes an island of exactly ten.
        tilted = np.round(off, 6) > limits["tolerance_degrees"]
        if tilted.any():
            worst = int(np.argmax(off))
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
                help=f"turn island {rows[worst] + 1} {_turn_in_words(float(up[worst]), allowed)}; "
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
