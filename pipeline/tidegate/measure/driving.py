"""Which map drives a UV layer of a material: the one whose size turns UV area into texels."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

from tidegate.model.mesh import MeshFile, UvTransform
from tidegate.model.prop import Binding, Prop, TextureMap

LARGEST_SIDE = 32_768
"""Texels a side that a map can drive with. A header that claims more (up to 2^31 in a few bytes) is told by its size; room
between islands measured at it would take more memory than there is."""


@dataclass(frozen=True, slots=True)
class Driving:
    """The driving map of one material on one UV layer.

    key: names the picture; two materials with the same key are painted on the same texels. sizes: UDIM tile (None for
    a map of no tile) -> (width, height) in texels. files: (slot, file) of every map on this layer. stated:
    the material names a map on this layer, whether or not it is there. tiles: file -> UDIM tiles it is for.
    """

    key: str
    slot: str
    assumed: bool
    sizes: dict[int | None, tuple[int, int]]
    files: tuple[tuple[str, str], ...]
    variant: str = ""
    transform: UvTransform | None = None
    wrap: tuple[str, str] = ("repeat", "repeat")
    stated: bool = True
    tiles: dict[str, frozenset[int | None]] = field(default_factory=dict)

    @property
    def by_tile(self) -> bool:
        """The map comes in UDIM tiles."""
        return None not in self.sizes

    def size(self, tile: int) -> tuple[int, int]:
        """Texels of the map on this tile; a tile without a map of its own is measured as the largest one."""
        return self.sizes.get(tile) or self.sizes.get(None) or max(self.sizes.values())


def driving_map(
    prop: Prop,
    mesh: MeshFile,
    material: int,
    uv_layer: int,
    *,
    slots: Sequence[str],
    assumed_px: int,
    fallback_key: str,
) -> Driving:
    """The first slot of `slots` with a readable map on this layer; with none, `assumed_px` square.

    Of several texture variants the plainest drives: they share one layout, and a rule holds their sizes together.
    """
    name = mesh.materials[material].name if material >= 0 else ""
    maps = {texture.path: texture for texture in prop.maps}
    bound = [
        b
        for b in prop.bindings
        if b.mesh_file == mesh.path and b.material == name and b.uv_layer == uv_layer and b.file in maps
    ]
    variant = min((b.variant for b in bound), default="")
    bound = [b for b in bound if b.variant in (variant, "")]
    files = tuple(sorted({(b.slot, b.file) for b in bound}))
    for slot in slots:
        found = [b for b in bound if b.slot == slot and _has_a_size(maps[b.file])]
        if found:
            transform, wrap = _placing(mesh, material, slot, uv_layer)
            return Driving(
                key=_key(found, transform),
                slot=slot,
                assumed=False,
                sizes=_sizes(found, maps),
                files=files,
                variant=variant,
                transform=transform,
                wrap=wrap,
                tiles={file: frozenset(b.tile for b in bound if b.file == file) for _, file in files},
            )
    # Without a readable map, materials that name the same missing file still share their texels.
    named = _named_texture(mesh, material, uv_layer, slots)
    return Driving(
        key=named or fallback_key,
        slot="",
        assumed=True,
        sizes={None: (assumed_px, assumed_px)},
        files=files,
        variant=variant,
        stated=bool(named or files),
    )


def _has_a_size(texture: TextureMap) -> bool:
    """Whether the map's header states a size that layouts can be measured at."""
    return 0 < texture.header.width <= LARGEST_SIDE and 0 < texture.header.height <= LARGEST_SIDE


def _sizes(found: Sequence[Binding], maps: dict[str, TextureMap]) -> dict[int | None, tuple[int, int]]:
    sizes: dict[int | None, tuple[int, int]] = {}
    for binding in sorted(found, key=lambda b: (b.tile or 0, b.file)):
        header = maps[binding.file].header
        sizes.setdefault(binding.tile, (header.width, header.height))
    return sizes


def _key(found: Sequence[Binding], transform: UvTransform | None) -> str:
    first = min(found, key=lambda b: (b.tile or 0, b.file)).file
    return first if transform is None else f"{first} (placed by the material)"


def _placing(mesh: MeshFile, material: int, slot: str, uv_layer: int) -> tuple[UvTransform | None, tuple[str, str]]:
    if material >= 0:
        for stated in mesh.materials[material].slots:
            if stated.slot == slot and stated.uv_layer == uv_layer:
                return stated.transform, stated.wrap
    return None, ("repeat", "repeat")


def _named_texture(mesh: MeshFile, material: int, uv_layer: int, slots: Sequence[str]) -> str:
    if material < 0:
        return ""
    stated = {
        s.slot: s for s in reversed(mesh.materials[material].slots) if s.uv_layer == uv_layer and s.reference >= 0
    }
    for slot in slots:
        if slot in stated:
            return mesh.references[stated[slot].reference].text
    return ""
