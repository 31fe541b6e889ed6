"""A prop that seems to lie on its side, as after an export with another axis up."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from tidegate.model.check import Check, Limit, Scope
from tidegate.model.facts import Facts
from tidegate.model.finding import Finding, Place
from tidegate.model.wording import length


def run(facts: Facts, limits: Mapping[str, Any], scope: Scope) -> Iterator[Finding]:
    parts = [part for part in facts.parts if part.role == "model" and part.triangles]
    if not parts or facts.size is None:
        return
    file = parts[0].file
    mesh = next(mesh for mesh in facts.prop.meshes if mesh.path == file)
    help = (
        "turn the model so that Y points up, and export again"
        if mesh.unit_stated
        else "state the axis that points up in the gate's configuration, or export with Y up"
    )
    ordered = facts.order.size_m if facts.order else None
    if ordered is not None:
        if _close(facts.size, ordered, limits["tolerance"]):
            return
        turned = (ordered[0], ordered[2], ordered[1])
        if _close(facts.size, turned, limits["tolerance"]):
            yield Finding(
                check="up-axis-doubtful",
                level="",
                message=(
                    f"height and depth are {length(facts.size[1])} and {length(facts.size[2])}, ordered were "
                    f"{length(ordered[1])} and {length(ordered[2])}: the prop lies on its side"
                ),
                place=Place(file=file, role="model"),
                measured="Z up",
                wanted="Y up",
                help=help,
            )
        return
    room = limits["tolerance"] * max(facts.size)
    low = [min(part.bounds[0][axis] for part in parts) for axis in range(3)]
    high = [max(part.bounds[1][axis] for part in parts) for axis in range(3)]
    stands_on_z = abs(low[2]) <= room and high[2] > room
    level_in_y = abs(low[1] + high[1]) <= room and high[1] > room
    if stands_on_z and level_in_y and high[2] - low[2] >= limits["slimness"] * (high[1] - low[1]):
        yield Finding(
            check="up-axis-doubtful",
            level="note",
            message=(
                "cannot tell which axis points up: the prop rises from the origin along Z and is even about it along Y, as "
                "after an export with Z up"
            ),
            place=Place(file=file, role="model"),
            measured="Z up",
            wanted="Y up",
            help=help,
            certain=False,
        )


def _close(a: tuple[float, float, float], b: tuple[float, float, float], tolerance: float) -> bool:
    return all(abs(x - y) <= tolerance * max(b) for x, y in zip(a, b, strict=True))


CHECK = Check(
    name="up-axis-doubtful",
    group="order, size and axes",
    stage=32,
    needs=frozenset({"files", "meshes"}),
    looks_at="height and depth against the order; without one, along which axis the prop rises from the origin",
    why="a prop that lies on its side fails every look at uprightness, and the axis is the fault, not the layout",
    put_right="export with Y up, or state the axis where the format says none",
    blind_spots="props as high as deep, and props whose origin is elsewhere; one that hangs on a wall by its back looks alike "
    "and is only noted",
    limits=(
        Limit(
            "tolerance",
            "number",
            0.02,
            "share",
            "of the longest side that counts as equal; common practice, no source",
            low=0,
        ),
        Limit(
            "slimness",
            "number",
            0.5,
            "ratio",
            "depth over height from which on the prop can stand along Z, so that a sign on a wall is let be; "
            "common practice, no source",
            low=0,
        ),
    ),
    run=run,
)
