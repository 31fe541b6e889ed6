"""Which map fills which slot of which material: by what the mesh names, and by what the maps are called.

A reference counts more than a name, because it is what a viewer shows; where the two differ, the binding says so.
Names fill what no reference fills: formats without a slot for roughness, further texture variants, further tiles.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

from tidegate.model.mesh import MapSlot, MeshFile
from tidegate.model.name_field import spelling_key
from tidegate.model.name_scheme import NameReading, NameScheme
from tidegate.model.prop import Binding

from .roles import COLLISION

_ROUGH_METAL = frozenset({"roughness", "metalness"})


@dataclass(frozen=True, slots=True)
class NamedMap:
    """A map as its name states it. slots: (slot, channels) pairs, () when the name states none. library: it lies in a
    library folder."""

    path: str
    asset: str
    variant: str = ""
    slots: tuple[tuple[str, str], ...] = ()
    tile: int | None = None
    library: bool = False


@dataclass(frozen=True, slots=True)
class Surface:
    """A material as one mesh file wears it outside its collision meshes."""

    mesh_file: str
    material: str
    slots: tuple[MapSlot, ...]


@dataclass(frozen=True, slots=True)
class Bound:
    """bindings: sorted. variants: of the texture, "" for the plain one. crowded: (map left out, map bound instead)
    pairs of maps whose names state the same place."""

    bindings: tuple[Binding, ...]
    variants: tuple[str, ...]
    crowded: tuple[tuple[str, str], ...] = ()


def named_map(path: str, reading: NameReading, scheme: NameScheme, library: bool = False) -> NamedMap:
    """What a map's name says about where it belongs."""
    tile = reading.field("tile")
    slots = scheme.slots_of(reading.field("map"))
    return NamedMap(
        path,
        reading.field("asset"),
        reading.field("variant") if slots else "",  # without a map word the name was hardly meant to be read
        slots,
        int(tile) if tile else None,
        library,
    )


def surfaces_of(meshes: Iterable[MeshFile]) -> tuple[Surface, ...]:
    """Every material worn, once a mesh file and name, in file order; "" for faces without a material."""
    found: dict[tuple[str, str], Surface] = {}
    for mesh in meshes:
        for part in mesh.parts:
            if part.role == COLLISION:
                continue
            material = mesh.materials[part.material] if 0 <= part.material < len(mesh.materials) else None
            key = (mesh.path, material.name if material else "")
            slots = material.slots if material else ()
            if key in found:
                slots = tuple(dict.fromkeys((*found[key].slots, *slots)))
            found[key] = Surface(*key, slots)
    return tuple(found.values())


def bind(
    meshes: Sequence[MeshFile],
    maps: Sequence[NamedMap],
    files_of: Mapping[tuple[str, int], Sequence[str]],
    asset: str,
    known_slots: Iterable[str],
) -> Bound:
    """Binds maps to slots.

    maps: every map that may belong to the prop, by reference or by name. files_of: (mesh file, number of a reference)
    -> paths of the maps it leads to; several for a set of tiles. asset: of the prop; only maps that state it, or that
    state none, are bound by name. known_slots: slots for which a name can agree or disagree.
    """
    surfaces = surfaces_of(meshes)
    named = {one.path: one for one in maps}
    referred = [
        (surface, slot, file)
        for surface in surfaces
        for slot in surface.slots
        for file in files_of.get((surface.mesh_file, slot.reference), ())
    ]
    parts = _material_parts(surfaces, maps, referred, named)
    own = [one for one in maps if one.slots and one.asset in ("", asset)]
    by_name, crowded = _by_name(surfaces, own, referred, named, parts)
    slots = frozenset(known_slots)
    found: dict[tuple[str, str, str, str, int | None], Binding] = {}
    for surface, slot, file in referred:
        binding = _referred(surface, slot, file, named.get(file), by_name, parts, slots, asset)
        found.setdefault(_place(binding), binding)
    for key, (one, channels, layer) in by_name.items():
        mesh_file, material, slot_name, variant, tile = key
        if key not in found and not _embedded_there(found, key):
            found[key] = Binding(
                mesh_file, material, slot_name, one.path, "name", channels, layer, tile=tile, variant=variant
            )
    bindings = tuple(sorted(found.values(), key=_order))
    return Bound(bindings, _variants(bindings), crowded)


_Key = tuple[str, str, str, str, int | None]


def _place(binding: Binding) -> _Key:
    return binding.mesh_file, binding.material, binding.slot, binding.variant, binding.tile


def _order(binding: Binding) -> tuple[str, str, str, str, int, str]:
    return (
        binding.mesh_file,
        binding.material,
        binding.slot,
        binding.variant,
        binding.tile or 0,
        binding.file,
    )


def _embedded_there(found: Mapping[_Key, Binding], key: _Key) -> bool:
    """A picture inside the mesh file already fills this slot for every variant and tile that a name could state."""
    mesh_file, material, slot, variant, _ = key
    plain = found.get((mesh_file, material, slot, "", None))
    return plain is not None and plain.file.startswith("embedded:") and variant == ""


def _referred(
    surface: Surface,
    slot: MapSlot,
    file: str,
    named: NamedMap | None,
    by_name: Mapping[_Key, tuple[NamedMap, str, int]],
    parts: Mapping[str, frozenset[str]],
    known_slots: frozenset[str],
    asset: str,
) -> Binding:
    name_of_slot = slot.slot
    stated = dict(named.slots) if named else {}
    if slot.slot == "height" and "normal" in stated:
        name_of_slot = "normal"  # a bump statement is the only place an OBJ material has for a normal map
    binding = Binding(
        surface.mesh_file,
        surface.material,
        name_of_slot,
        file,
        "reference",
        slot.channels if name_of_slot == slot.slot else stated["normal"],
        slot.uv_layer,
        tile=named.tile if named else None,
        variant=named.variant if named and named.variant not in parts else "",
    )
    candidate = by_name.get(_place(binding))
    if candidate is not None and candidate[0].path == file:
        wrong = _other_channel(slot, stated)
        return replace(binding, how="both", disagreement=wrong)
    if file.startswith("embedded:"):
        return binding
    foreign = named is None or not stated or named.asset not in ("", asset)
    if candidate is not None and (foreign or not _agrees(slot, stated, known_slots)):
        return replace(binding, disagreement=candidate[0].path)
    if stated and not _agrees(slot, stated, known_slots):
        return replace(binding, disagreement=next(iter(stated)))
    if stated and name_of_slot in stated:
        return replace(binding, how="both", disagreement=_other_channel(slot, stated))
    return binding


def _agrees(slot: MapSlot, stated: Mapping[str, str], known_slots: frozenset[str]) -> bool:
    if not stated or slot.slot in stated or slot.slot not in known_slots:
        return True
    if slot.slot == "height" and "normal" in stated:
        return True
    if slot.slot == "opacity" and "base_color" in stated and slot.channels in ("a", "rgba"):
        return True  # cut out by the alpha channel of the base color
    # glTF has one picture for both; a map of one of the two alone may stand there, with the other one's factor at 0.
    return slot.slot in _ROUGH_METAL and "metallicRoughness" in slot.stated_as and bool(_ROUGH_METAL & set(stated))


def _other_channel(slot: MapSlot, stated: Mapping[str, str]) -> str:
    """A packed map read in another channel than its name gives the slot."""
    channel = stated.get(slot.slot, "")
    if len(stated) > 1 and len(channel) == 1 and len(slot.channels) == 1 and channel != slot.channels:
        return f"{slot.slot} in channel {channel}"
    return ""


def _material_parts(
    surfaces: Sequence[Surface],
    maps: Sequence[NamedMap],
    referred: Sequence[tuple[Surface, MapSlot, str]],
    named: Mapping[str, NamedMap],
) -> dict[str, frozenset[str]]:
    """Variant words that do not name a texture variant but the material the map is for -> those materials.

    So `storm_lantern_glass_base_color` belongs to the material `glass`. A word is taken so when materials that go by
    different words stand side by side, in the references or in the names of the materials.
    """
    words = sorted({one.variant for one in maps if one.variant})
    users: dict[str, set[str]] = {}
    for surface, _, file in referred:
        one = named.get(file)
        if one is not None and one.variant:
            users.setdefault(one.variant, set()).add(surface.material)
    by_reference = {word: frozenset(materials) for word, materials in users.items()}
    if len(by_reference) > 1 and len(set().union(*by_reference.values())) > 1:
        return by_reference
    materials = sorted({surface.material for surface in surfaces if surface.material})
    by_word = {word: frozenset(m for m in materials if _holds(m, word)) for word in words}
    if len(materials) > 1:
        exact = {word: found for word, found in by_word.items() if found and _is_exact(found, word)}
        if all(by_word.values()) and words:
            return by_word
        return exact
    if words and all(by_word.values()):
        return by_word
    return {}


def _holds(material: str, word: str) -> bool:
    """Whether the words of a material's name hold these words in a row."""
    inner, outer = spelling_key(word), spelling_key(material)
    return any(outer[i : i + len(inner)] == inner for i in range(len(outer) - len(inner) + 1))


def _is_exact(materials: frozenset[str], word: str) -> bool:
    return any(spelling_key(material) == spelling_key(word) for material in materials)


def _by_name(
    surfaces: Sequence[Surface],
    own: Sequence[NamedMap],
    referred: Sequence[tuple[Surface, MapSlot, str]],
    named: Mapping[str, NamedMap],
    parts: Mapping[str, frozenset[str]],
) -> tuple[dict[_Key, tuple[NamedMap, str, int]], tuple[tuple[str, str], ...]]:
    """What names alone would bind, and the maps that came second for a place."""
    seen_on: dict[tuple[str, str], set[Surface]] = {}
    asset_on: dict[str, set[Surface]] = {}
    for surface, _, file in referred:
        one = named.get(file)
        if one is not None:
            seen_on.setdefault((one.asset, one.variant), set()).add(surface)
            asset_on.setdefault(one.asset, set()).add(surface)
    # Slots that a material has a map of its own name for; a map for all materials leaves those alone.
    special = {
        (material, slot)
        for one in own
        if one.variant in parts
        for material in parts[one.variant]
        for slot, _ in one.slots
    }
    wanted_by: dict[str, set[str]] = {}
    for surface, _, file in referred:
        wanted_by.setdefault(file, set()).add(surface.material)
    found: dict[_Key, tuple[NamedMap, str, int]] = {}
    crowded: list[tuple[str, str]] = []
    for one in sorted(own, key=lambda m: (m.library, m.path not in wanted_by, m.path.count("/"), m.path)):
        is_part = one.variant in parts
        # Materials that already wear a map of this asset and variant, else of this asset, else all of them.
        near = seen_on.get((one.asset, one.variant)) or asset_on.get(one.asset, set())
        related = [s for s in surfaces if s in near]
        for slot, channels in one.slots:
            if is_part:
                homes = [s for s in surfaces if s.material in parts[one.variant]]
            elif related:
                homes = related
            else:
                homes = [s for s in surfaces if (s.material, slot) not in special]
            for surface in homes:
                key = (surface.mesh_file, surface.material, slot, "" if is_part else one.variant, one.tile)
                if key not in found:
                    found[key] = (one, channels, _layer(surface))
                elif found[key][0].path != one.path:
                    crowded.append((one.path, found[key][0].path))
    return found, tuple(sorted(set(crowded)))


def _layer(surface: Surface) -> int:
    """The UV layer a map bound by name is painted on: that of the material's other maps, base color first."""
    layers = [slot.uv_layer for slot in surface.slots if slot.slot == "base_color"]
    layers += sorted({slot.uv_layer for slot in surface.slots})
    return layers[0] if layers else 0


def _variants(bindings: Sequence[Binding]) -> tuple[str, ...]:
    """The texture variants. The plain one counts only where a slot has a plain map beside the variants' maps."""
    by_slot: dict[tuple[str, str, str], set[str]] = {}
    for binding in bindings:
        by_slot.setdefault((binding.mesh_file, binding.material, binding.slot), set()).add(binding.variant)
    several = [variants for variants in by_slot.values() if variants != {""}]
    if not several:
        return ("",)
    return tuple(sorted(set().union(*several)))
