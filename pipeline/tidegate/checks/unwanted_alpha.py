"""An alpha channel that nothing reads."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from tidegate.model.check import Check, Limit, Scope
from tidegate.model.facts import Facts
from tidegate.model.finding import Finding
from tidegate.model.map_uses import channels_of, map_place, maps_in
from tidegate.model.prop import Prop
from tidegate.model.selection import MAP_SCOPE


def run(facts: Facts, limits: Mapping[str, Any], scope: Scope) -> Iterator[Finding]:
    for texture in maps_in(facts, scope):
        header = texture.header
        if not header.readable or header.color_model == "compressed" or not (header.alpha_bits or header.palette_alpha):
            continue
        uses = channels_of(facts.prop, texture.path)
        if not uses or any(slot in limits["allowed"] for slot in uses):
            continue
        if any("a" in channels for channels in uses.values()) and _see_through(facts.prop, texture.path):
            continue
        yield Finding(
            check="unwanted-alpha",
            level="",
            message=f"{texture.path} has an alpha channel that no material reads",
            place=map_place(texture),
            measured="alpha",
            wanted="none",
            help="save it without alpha, or set the material to cut-out or blended if it is meant to be seen through",
        )


def _see_through(prop: Prop, path: str) -> bool:
    """A material that wears the map states that its alpha is looked at, or its format cannot state it."""
    worn = {(b.mesh_file, b.material) for b in prop.bindings if b.file == path}
    for mesh in prop.meshes:
        for material in mesh.materials:
            if (mesh.path, material.name) in worn and material.alpha_mode != "opaque":
                return True
    return False


CHECK = Check(
    name="unwanted-alpha",
    group="maps and masters",
    stage=70,
    needs=frozenset({"files", "meshes", "headers"}),
    looks_at="alpha channels of maps whose slots and materials read none",
    why="a fourth channel takes a third more memory, and a reader that does look at it shows holes",
    put_right="save the map as color without alpha",
    blind_spots="whether a channel that is read says anything is judged by another check",
    limits=(
        Limit("allowed", "texts", ["opacity"], "", "slots whose maps may carry alpha; common practice, no source"),
    ),
    level="warning",
    scope=MAP_SCOPE,
    run=run,
)
