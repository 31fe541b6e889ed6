"""Sizes of maps against ratios, orders and each other."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

from tidegate.model.order_row import OrderRow
from tidegate.model.prop import Prop, TextureMap
from tidegate.model.wording import number


def ratio_allowed(width: int, height: int, ratios: Sequence[str]) -> bool:
    """Whether width:height is one of `ratios` ("1:1", "2:1"), compared exactly in whole numbers."""
    for ratio in ratios:
        across, _, up = ratio.partition(":")
        if across.strip().isdigit() and up.strip().isdigit() and width * int(up) == height * int(across):
            return True
    return False


def against_order(texture: TextureMap, row: OrderRow | None) -> Iterator[int]:
    """The ordered longer side wherever the map has another; the slot's own size goes before the one for all maps."""
    if row is None:
        return
    sizes = dict(row.map_sizes)
    wanted = next((sizes[slot] for slot in texture.slots if slot in sizes), sizes.get("") if texture.slots else None)
    if wanted is not None and max(texture.header.width, texture.header.height) != wanted:
        yield wanted


def ordered_px(row: OrderRow | None, slots: Sequence[str]) -> int | None:
    """Ordered longer side of a map that is still to be painted: of the first of `slots` that has a size of its own, else
    the one for all maps."""
    sizes = dict(row.map_sizes) if row is not None else {}
    return next((sizes[slot] for slot in slots if slot in sizes), sizes.get(""))


def fraction_faults(
    prop: Prop, maps: Sequence[TextureMap], fractions: Sequence[float], sizes: Mapping[str, tuple[int, int]]
) -> Iterator[tuple[TextureMap, str, TextureMap]]:
    """Maps whose size is no allowed fraction of the largest map of the same material, variant and tile.

    Gives the map, its share as text, and the largest one. A map is named once, however many materials wear it.
    sizes: path -> width and height that a map is to be saved at for another fault of its own: what goes with that is none.
    """
    by_path = {texture.path: texture for texture in maps}
    groups: dict[tuple[str, str, str, int | None], list[TextureMap]] = {}
    for binding in prop.bindings:
        texture = by_path.get(binding.file)
        if texture is not None:
            group = groups.setdefault((binding.mesh_file, binding.material, binding.variant, binding.tile), [])
            if texture not in group:
                group.append(texture)
    told: set[str] = set()
    for group in groups.values():
        meant = {t.path: sizes.get(t.path, (t.header.width, t.header.height)) for t in group}
        base = max(group, key=lambda t: (meant[t.path][0] * meant[t.path][1], t.path))
        for texture in sorted(group, key=lambda t: t.path):
            across, up = (side / of for side, of in zip(meant[texture.path], meant[base.path], strict=True))
            allowed = across == up and any(abs(across - fraction) < 1e-9 for fraction in fractions)
            if not allowed and texture is not base and texture.path not in told:
                told.add(texture.path)
                across, up = texture.header.width / base.header.width, texture.header.height / base.header.height
                share = number(across, 3) if across == up else f"{number(across, 3)} x {number(up, 3)}"
                yield texture, share, base
