"""What a map is used for: its slots, the channels they read, and where a finding on it lies."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING

from .finding import Place

if TYPE_CHECKING:
    from .check import Scope
    from .facts import Facts
    from .prop import Prop, TextureMap

DATA = ("roughness", "metalness", "occlusion", "opacity", "height")  # slots that hold one number a texel
COLOR = ("base_color", "emission", "specular")
SINGLE = ("r", "g", "b", "a")


def channels_of(prop: Prop, path: str) -> dict[str, str]:
    """Slot -> channels ("rgb", "g", ...; "" when nothing states them) for every slot the map is bound to, sorted."""
    found: dict[str, str] = {}
    for binding in prop.bindings:
        if binding.file == path and not found.get(binding.slot):
            found[binding.slot] = binding.channels
    texture = next((one for one in prop.maps if one.path == path), None)
    for slot in texture.slots if texture else ():
        found.setdefault(slot, "")
    return dict(sorted(found.items()))


def packed(uses: dict[str, str]) -> bool:
    """Several slots share the map, each in a channel of its own; or its only slot reads another than the first one."""
    single = {channel for channel in uses.values() if channel in SINGLE}
    return len(uses) > 1 or bool(single - {"r"})


def lone_slot(prop: Prop, texture: TextureMap, slots: Sequence[str]) -> str:
    """The one slot that the map serves when that is one of `slots` and nothing is packed beside it; else ""."""
    uses = channels_of(prop, texture.path)
    (slot,) = uses if len(uses) == 1 else ("",)
    return slot if slot in slots and not packed(uses) else ""


def channel_index(channels: str, count: int) -> int:
    """Which of `count` stored channels a slot reads that reads one: that of its letter, the first of a grey map."""
    if count <= 2:
        return count - 1 if channels == "a" else 0
    return min(SINGLE.index(channels), count - 1) if channels in SINGLE else 0


def maps_in(facts: Facts, scope: Scope) -> Iterator[TextureMap]:
    """Every map of the drop itself that the scope takes; maps of a read-only library are not the artist's to mend."""
    for texture in facts.prop.maps:
        if not texture.library and takes_map(facts, texture, scope):
            yield texture


def takes_map(facts: Facts, texture: TextureMap, scope: Scope) -> bool:
    """Whether one of the map's slots and materials is meant by the scope."""
    materials = sorted({b.material for b in facts.prop.bindings if b.file == texture.path}) or [""]
    return any(
        scope.takes(slot=slot, material=material, variant=texture.variant, tile=texture.tile)
        for slot in texture.slots or ("",)
        for material in materials
    )


def map_place(
    texture: TextureMap, slot: str = "", box: tuple[int, int, int, int] | None = None, islands: tuple[int, ...] = ()
) -> Place:
    """The place of a finding on a map. box: pixels, half-open, from the upper left. islands: numbers of the report."""
    return Place(
        map=texture.path,
        slot=slot or (texture.slots[0] if texture.slots else ""),
        variant=texture.variant,
        tile=texture.tile,
        pixel_box=box,
        islands=islands,
    )
