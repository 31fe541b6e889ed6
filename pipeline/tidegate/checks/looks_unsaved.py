"""A map that looks as if nothing had been saved into it."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from tidegate.model.check import Check, Limit, Scope
from tidegate.model.facts import Facts
from tidegate.model.finding import Finding
from tidegate.model.map_uses import channels_of, map_place, maps_in
from tidegate.model.selection import MAP_SCOPE

# Slots in which a map of one extreme is a plain statement: no metal, no light, nothing hidden, solid.
BELIEVABLE = {
    "metalness": ("fully black", "fully white"),
    "occlusion": ("fully white",),
    "emission": ("fully black",),
    "opacity": ("fully white",),
    "height": ("fully black", "fully white"),
}
# Slots in which it may be one, and an empty canvas looks the same: rough all over.
DOUBTED = {"roughness": ("fully white",)}
WHITE = (1.0, 1.0, 1.0)


def run(facts: Facts, limits: Mapping[str, Any], scope: Scope) -> Iterator[Finding]:
    flatness = dict(facts.flatness)
    for texture in maps_in(facts, scope):
        found = flatness.get(texture.path)
        if found is None or not found.looks_unsaved:
            continue
        if max(texture.header.width, texture.header.height) <= limits["swatch"]:
            continue
        uses = channels_of(facts.prop, texture.path)
        says = found.looks_unsaved
        plain = says == "one flat colour"
        if plain and not any(slot in limits["varied"] for slot in uses):
            continue
        if not plain and uses and all(says in BELIEVABLE.get(slot, ()) for slot in uses):
            continue
        if says == "fully white" and set(uses) == {"base_color"} and _tinted(facts, texture.path):
            continue
        doubted = plain or (uses and all(says in DOUBTED.get(slot, BELIEVABLE.get(slot, ())) for slot in uses))
        yield Finding(
            check="looks-unsaved",
            level="warning" if doubted else "",
            message=f"{texture.path} is {_said(found)}: it looks as if it was never saved",
            place=map_place(texture),
            measured=says.replace("colour", "color"),
            wanted="a painted map",
            help="export the map again from its master; for a plain color a factor of the material or a swatch will do",
        )


def _tinted(facts: Facts, path: str) -> bool:
    """Every material that wears the map multiplies it by a color, so white is there to be tinted."""
    tints = {(mesh.path, one.name): one.tint for mesh in facts.prop.meshes for one in mesh.materials}
    worn = [tints.get((b.mesh_file, b.material), WHITE) for b in facts.prop.bindings if b.file == path]
    return bool(worn) and WHITE not in worn


def _said(found: Any) -> str:
    if found.looks_unsaved != "one flat colour":
        return str(found.looks_unsaved)
    return f"one flat color, {' '.join(str(code) for code in found.common)}"


CHECK = Check(
    name="looks-unsaved",
    group="what the maps show",
    stage=80,
    needs=frozenset({"files", "meshes", "headers", "flatness"}),
    looks_at="maps that are black, white or transparent all over, or one color where paint is wanted",
    why="an export that ran before the layers were shown writes such maps, and nobody opens them again",
    put_right="show the layers and export the map again",
    blind_spots="a map with a single stray texel is not called flat; white is left alone where it says something: nothing hidden,"
    " solid, all metal, or a base color that its glTF material multiplies by a color of its own",
    limits=(
        Limit(
            "varied",
            "texts",
            ["base_color"],
            "",
            "slots in which one flat color is doubted; common practice, no source",
        ),
        Limit(
            "swatch",
            "integer",
            16,
            "texels",
            "longer side up to which a flat map is taken for a swatch that is meant; common practice, no source",
            low=0,
        ),
    ),
    scope=MAP_SCOPE,
    run=run,
)
