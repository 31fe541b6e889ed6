"""Collision meshes that carry UVs or wear textured materials."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from tidegate.model.check import Check, Limit, Scope
from tidegate.model.facts import Facts
from tidegate.model.faulty import named, place_of
from tidegate.model.finding import Finding
from tidegate.model.selection import COLLISION


def run(facts: Facts, limits: Mapping[str, Any], scope: Scope) -> Iterator[Finding]:
    textured = {
        (mesh.path, material.name) for mesh in facts.prop.meshes for material in mesh.materials if material.slots
    }
    for part in facts.parts:
        if part.role != COLLISION or not scope.takes(mesh=part.mesh, node=part.node, material=part.material):
            continue
        if (part.file, part.material) in textured:
            yield Finding(
                check="collision-painted",
                level="",
                message=f"collision {named(part)} wears the textured material `{part.material}`",
                place=place_of(part),
                measured=part.material,
                wanted="no textures",
                help="take the material off the collision mesh before export",
            )
        if part.uv_layers and not limits["uvs_allowed"]:
            yield Finding(
                check="collision-painted",
                level="",
                message=f"collision {named(part)} carries UVs, which nothing is ever painted on",
                place=place_of(part),
                measured=len(part.uv_layers),
                wanted=0,
                unit="UV layers",
                help="export the collision mesh without UVs",
            )


CHECK = Check(
    name="collision-painted",
    group="levels of detail and collision",
    stage=44,
    needs=frozenset({"files", "meshes"}),
    looks_at="UV layers of collision meshes, and whether their materials name textures",
    why="what is never seen needs no paint; textures on it are loaded all the same, and often it is the wrong mesh",
    put_right="export the collision mesh with positions alone",
    blind_spots="a plain material may be there on purpose, to name a surface for sounds",
    limits=(
        Limit("uvs_allowed", "boolean", True, "", "whether collision meshes may carry UVs; common practice, no source"),
    ),
    scope=frozenset({"mesh", "node", "material"}),
    run=run,
)
