"""A pivot that lies where nobody expects it."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from tidegate.model.check import Check, Limit, Scope
from tidegate.model.facts import Facts
from tidegate.model.finding import Finding, Place
from tidegate.model.wording import length, rounded

BASE, INSIDE, CENTRE = "base", "inside", "centre"


def run(facts: Facts, limits: Mapping[str, Any], scope: Scope) -> Iterator[Finding]:
    parts = [part for part in facts.parts if part.role == "model" and part.triangles]
    if not parts or facts.size is None:
        return
    low = [min(part.bounds[0][axis] for part in parts) for axis in range(3)]
    high = [max(part.bounds[1][axis] for part in parts) for axis in range(3)]
    room = limits["tolerance"] * max(facts.size)
    wanted = limits["wanted"]
    # Distance of the origin from where it should be, an axis: outside the box, off its middle, off its foot.
    outside = [max(low[a], -high[a], 0.0) for a in range(3)]
    centre = [abs(low[a] + high[a]) / 2.0 for a in range(3)]
    if wanted == INSIDE:
        off, words = outside, "inside the prop's box"
    elif wanted == CENTRE:
        off, words = centre, "in the middle of the prop's box"
    else:
        off, words = [centre[0], abs(low[1]), centre[2]], "in the middle of its foot"
    worst = max(off)
    if worst <= room:
        return
    yield Finding(
        check="pivot-out-of-place",
        level="",
        message=f"the pivot lies {length(worst)} from where it should be, {words}",
        place=Place(file=parts[0].file, role="model", point=(0.0, 0.0, 0.0)),
        measured=rounded(worst),
        wanted=rounded(room),
        unit="m",
        help=f"move the model so that the scene's origin lies {words}, and export again",
    )


CHECK = Check(
    name="pivot-out-of-place",
    group="nodes and materials",
    stage=47,
    needs=frozenset({"files", "meshes"}),
    looks_at="where the scene's origin lies in the box of the model",
    why="a prop is placed and turned by its pivot; with the pivot elsewhere it floats, sinks or swings about",
    put_right="move the model onto the origin before export",
    blind_spots="props that hang, such as a lamp, have their pivot where they are fixed: give them a rule of their own",
    limits=(
        Limit(
            "wanted",
            "choice",
            INSIDE,
            "",
            "where the pivot lies: in the middle of the foot, anywhere inside the box, or in the box's middle",
            choices=(BASE, INSIDE, CENTRE),
        ),
        Limit(
            "tolerance", "number", 0.02, "share", "of the longest side it may be off; common practice, no source", low=0
        ),
    ),
    run=run,
)
