"""Materials that are one material under several names."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from typing import Any

from tidegate.model.check import Check, Scope
from tidegate.model.facts import Facts
from tidegate.model.finding import Finding, Place
from tidegate.model.mesh import Material, MeshFile
from tidegate.model.wording import one_of

# How programs number a copy: `iron.001`, `iron (2)`, `iron copy`, `iron_copy2`.
_COPY = re.compile(r"(?:\.\d{3}|\s*\(\d+\)|[ _-]copy\s*\d*)+$", re.IGNORECASE)


def run(facts: Facts, limits: Mapping[str, Any], scope: Scope) -> Iterator[Finding]:
    for mesh in facts.prop.meshes:
        worn = sorted({part.material for part in mesh.parts if part.material >= 0})
        groups: dict[tuple[Any, ...], list[str]] = {}
        for number in worn:
            material = mesh.materials[number]
            groups.setdefault((_COPY.sub("", material.name), *_look(mesh, material)), []).append(material.name)
        for names in groups.values():
            if len(names) < 2 or not any(scope.takes(material=name) for name in names):
                continue
            yield Finding(
                check="doubled-material",
                level="",
                message=f"{mesh.path}: {one_of([f'`{name}`' for name in names], 'and')} are copies of one material",
                place=Place(file=mesh.path, material=names[0]),
                measured=len(names),
                wanted=1,
                unit="materials",
                help=f"put `{names[0]}` on every face that wears a copy, and delete the copies",
            )


def _look(mesh: MeshFile, material: Material) -> tuple[Any, ...]:
    """What is known of how a material looks; colour factors are not read, so equal looks alone prove no copy."""
    slots = tuple(
        (slot.slot, mesh.references[slot.reference].text if slot.reference >= 0 else "", slot.uv_layer)
        for slot in material.slots
    )
    return slots, material.double_sided, material.alpha_mode


CHECK = Check(
    name="doubled-material",
    group="nodes and materials",
    stage=48,
    needs=frozenset({"files", "meshes"}),
    looks_at="materials whose names differ by the number of a copy alone and that name the same maps",
    why="a copy left by mistake costs a draw call, and a later change to one of them misses the other",
    put_right="use one material, and delete the copies",
    blind_spots="copies that were renamed; copies whose color factor was changed on purpose",
    scope=frozenset({"material"}),
    run=run,
)
