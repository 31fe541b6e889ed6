"""A map that looks as if nothing had been saved into it."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from tidegate.model.check import Check, Limit, Scope
from tidegate.model.facts import Facts
from tidegate.model.finding import Finding, Shown
from tidegate.model.map_uses import channels_of, map_place, maps_in
from tidegate.model.selection import MAP_SCOPE
from tidegate.model.wording import count

# Slots in which a map of one extreme is a plain statement: no metal, no light, nothing hidden, solid.
BELIEVABLE = {
    "metalness": ("fully black", "fully white"),
    "occlusion": ("fully white",),
    "emission": ("fully black",),
    "opacity": ("fully white",),
    "height": ("fully black", "fully white"),
    "specular": ("fully white",),
}
# Slots in which it may be one, and an empty canvas looks the same: a white ball, a mirror, rough all over, a lamp, dull all over.
DOUBTED = {
    "base_color": ("fully white",),
    "roughness": ("fully black", "fully white"),
    "emission": ("fully white",),
    "specular": ("fully black",),
}
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
        hidden = says == "fully transparent" and found.low[:-1] != found.high[:-1]
        if hidden:
            doubted = not _read_by_alpha(facts, texture.path)
        else:
            doubted = plain or _doubted(facts, texture.path, says, uses)
        yield Finding(
            check="looks-unsaved",
            level="warning" if doubted else "",
            message=f"{texture.path} {_said(found, hidden, doubted)}",
            place=map_place(texture),
            measured=says.replace("colour", "color"),
            wanted="a painted map",
            shown=Shown(over="outlines"),
            help="save its alpha again, or save it without alpha"
            if hidden
            else "export the map again from its master; where a plain color is meant, a factor of the material or a swatch of at "
            f"most {count(limits['swatch'], 'texel')} will do",
        )


def _doubted(facts: Facts, path: str, says: str, uses: Mapping[str, str]) -> bool:
    """It may be meant: every slot has a thing that looks so; black is the color of a screen that gives light of its own."""
    if says == "fully black" and set(uses) == {"base_color"}:
        worn, lit = _wearers(facts, path), _wearers(facts, "", "emission")
        return bool(worn) and worn <= lit
    return bool(uses) and all(says in (*DOUBTED.get(slot, ()), *BELIEVABLE.get(slot, ())) for slot in uses)


def _wearers(facts: Facts, path: str, slot: str = "") -> set[tuple[str, str]]:
    """Mesh file and material of those that wear the map, or any in the slot."""
    return {(b.mesh_file, b.material) for b in facts.prop.bindings if (b.slot == slot if slot else b.file == path)}


def _tinted(facts: Facts, path: str) -> bool:
    """Every material that wears the map multiplies it by a color, so white is there to be tinted."""
    tints = {(mesh.path, one.name): one.tint for mesh in facts.prop.meshes for one in mesh.materials}
    worn = [tints.get(wearer, WHITE) for wearer in sorted(_wearers(facts, path))]
    return bool(worn) and WHITE not in worn


def _read_by_alpha(facts: Facts, path: str) -> bool:
    """A material that wears the map is cut out or blended by it."""
    modes = {(mesh.path, one.name): one.alpha_mode for mesh in facts.prop.meshes for one in mesh.materials}
    return any(modes.get(wearer, "opaque") != "opaque" for wearer in _wearers(facts, path))


def _said(found: Any, hidden: bool, doubted: bool) -> str:
    if hidden:
        return "has colors, but its alpha is 0 all over: nothing of it shows where alpha is read"
    named = found.looks_unsaved
    if named == "one flat colour":
        named = f"one flat color, {' '.join(str(code) for code in found.common)}"
    return f"is {named}: {'nothing is painted on it' if doubted else 'it looks as if it was never saved'}"


CHECK = Check(
    name="looks-unsaved",
    group="what the maps show",
    stage=80,
    needs=frozenset({"files", "meshes", "headers", "flatness"}),
    looks_at="maps that are black, white or transparent all over, or one color where paint is wanted",
    why="an export that ran before the layers were shown writes such maps, and nobody opens them again",
    put_right="show the layers and export the map again",
    blind_spots="a map with a single stray texel is not called flat; one color that may be meant is a warning at most: white or "
    "plain base color, black under light of its own, mirror or rough all over; white is left alone where it says something: "
    "nothing hidden, solid, all metal, or a base color that its glTF material multiplies by a color of its own",
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
