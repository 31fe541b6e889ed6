"""Triangles that lie on another one and face the same way."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from tidegate.model.check import Check, Limit, Scope
from tidegate.model.facts import Facts
from tidegate.model.faulty import BODY_SCOPE, bodies_in, faces_of, faulty_bodies, named
from tidegate.model.finding import Finding, Place, Shown
from tidegate.model.wording import count


def run(facts: Facts, limits: Mapping[str, Any], scope: Scope) -> Iterator[Finding]:
    for fault in faulty_bodies(facts, scope, lambda body: body.doubled):
        if fault.total <= limits["allowed"]:
            continue
        yield Finding(
            check="doubled-triangles",
            level="",
            message=(
                f"{fault.where}: {count(fault.total, 'triangle')} on the corners of another one, facing the same way"
                + _copied_from(facts, scope, fault.place)
            ),
            place=fault.place,
            measured=fault.total,
            wanted=limits["allowed"],
            unit="triangles",
            shown=Shown(faces=faces_of(facts, scope, "doubled", fault.place)),
            help="delete the copies: select doubled faces, or merge by distance and remove what repeats",
        )


def _copied_from(facts: Facts, scope: Scope, place: Place) -> str:
    """The meshes that the place's meshes lie on copies of, in words; "" where every mesh repeats itself alone."""
    bodies = [body for body in bodies_in(facts, scope) if (body.file, body.role) == (place.file, place.role)]
    pairs = [(body, first) for body in bodies for first in body.beside.originals(body)]
    if not pairs:
        return ""
    body, first = next((pair for pair in pairs if pair[0].node == place.node), pairs[0])
    if body.mesh == first.mesh and body.node:
        told = f"node `{body.node}` places it where node `{first.node}` does"
    else:
        told = f"{named(body)} lies on {named(first)}"
    return f"; {told}" + (f", and {len(pairs) - 1} more such" if len(pairs) > 1 else "")


CHECK = Check(
    name="doubled-triangles",
    group="mesh",
    stage=41,
    needs=frozenset({"files", "meshes", "topology"}),
    looks_at=(
        "triangles that use the three positions of another one and face the same way, in one mesh or in two of one file and role"
    ),
    why="they are paid for twice, show through transparent paint, and flicker where their shading differs",
    put_right="delete the copies, and merge what was left apart",
    blind_spots=(
        "copies within one mesh that do not agree to the last bit, copies in two meshes more than a hundredth of a millimetre "
        "apart, and copies in another file"
    ),
    limits=(Limit("allowed", "integer", 0, "triangles", "copies in all that still pass", low=0),),
    scope=BODY_SCOPE,
    run=run,
)
