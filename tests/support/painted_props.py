"""Props whose maps are arrays: what a check of paint says of them, without any file."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np

from tests.support.laid_props import DENSITY, OAK, SIZE, Sheet, apart, sheet
from tests.support.mesh_props import SETTINGS, mesh_file, part
from tidegate import checks
from tidegate.errors import UnreadableFile
from tidegate.measure.measure import measure
from tidegate.model.check import Scope
from tidegate.model.facts import Facts
from tidegate.model.finding import Finding
from tidegate.model.image_header import ImageHeader, ImageLayer
from tidegate.model.limit_value import accepted
from tidegate.model.mesh import Material
from tidegate.model.prop import Binding, Master, Prop, TextureMap

Maps = dict[str, np.ndarray]
CHANNELS = {"base_color": "rgb", "normal": "rgb", "emission": "rgb"}
MODELS = {1: "grey", 2: "grey", 3: "rgb", 4: "rgb"}


class Pictures:
    """Gives arrays by path and counts how often each was asked for; an error in place of an array is raised."""

    def __init__(self, arrays: dict[str, Any], layers: dict[str, tuple[ImageLayer, ...]] | None = None) -> None:
        self.arrays, self.held = arrays, layers or {}
        self.asked: list[str] = []

    def pixels(self, texture: TextureMap) -> np.ndarray:
        return self._give(texture.path)

    def merged(self, master: Master) -> np.ndarray:
        return self._give(master.path)

    def layers(self, master: Master) -> tuple[ImageLayer, ...]:
        return self.held.get(master.path, ())

    def _give(self, path: str) -> np.ndarray:
        self.asked.append(path)
        held = self.arrays[path]
        if isinstance(held, UnreadableFile):
            raise held
        return held if held.ndim == 3 else held[:, :, None]


def header_of(image: np.ndarray, **more: Any) -> ImageHeader:
    """The header of an array saved without packing, which leaves its length to say nothing."""
    height, width = image.shape[:2]
    channels = 1 if image.ndim == 2 else image.shape[2]
    bits = image.dtype.itemsize * 8
    facts: dict[str, Any] = {
        "bytes": image.nbytes,
        "bits_per_pixel": bits * channels,
        "channels": channels,
        "bits_per_channel": bits,
        "alpha_bits": bits if channels in (2, 4) else 0,
        "compression": "none",
        "color_model": MODELS[channels],
    }
    return ImageHeader(width=width, height=height, **{"format": "png", **facts, **more})


def wearing(maps: Maps, *sheets: Sheet, material: Material = OAK, header: dict[str, Any] | None = None) -> Prop:
    """A prop of these sheets with a map for each slot, `oak_SLOT.png`. header: fields of every header to replace."""
    whole = apart(*(sheets or (sheet(0, 0, SIZE, SIZE),)))
    one = part(whole.points, whole.triangles, uv=whole.uv, material=0)
    files = {slot: f"oak_{slot}.png" for slot in maps}
    return Prop(
        name="crate",
        meshes=(mesh_file(one, path="a.glb", materials=(material,)),),
        maps=tuple(TextureMap(files[s], files[s], header_of(maps[s], **(header or {})), (s,)) for s in sorted(maps)),
        bindings=tuple(Binding("a.glb", "oak", s, files[s], "name", CHANNELS.get(s, "r")) for s in sorted(maps)),
    )


def pictures_of(maps: Maps) -> Pictures:
    return Pictures({f"oak_{slot}.png": image for slot, image in maps.items()})


def facts_with(prop: Prop, pictures: Pictures, *needs: str, **settings: Any) -> Facts:
    return measure(prop, needs, {**SETTINGS, **settings}, None, pictures)


def told(check: str, prop: Prop, pictures: Pictures, *, scope: Scope | None = None, **limits: Any) -> list[Finding]:
    """What one check says, with its default limits but for those given. Only the groups it names are measured."""
    known = checks.get(check)
    values = {one.name: accepted(one, limits.pop(one.name, one.default)) for one in known.limits}
    assert not limits, f"{check} has no limit {sorted(limits)}"
    more = {"albedo_codes": ((values["darkest"], values["brightest"]),)} if "darkest" in values else {}
    facts = facts_with(prop, pictures, *known.needs, bleed_texels=values.get("texels", 0), **more)
    found = list(known.run(facts, values, scope or Scope()))
    for one in found:
        assert one.check == check
        assert one.message and one.help and not one.message.endswith(".")
    return found


def told_of(
    check: str, maps: Maps, *sheets: Sheet, header: dict[str, Any] | None = None, **limits: Any
) -> list[Finding]:
    return told(check, wearing(maps, *sheets, header=header), pictures_of(maps), **limits)


def with_uses(prop: Prop, path: str, uses: dict[str, str]) -> Prop:
    """The prop with one map bound to these slots and channels instead."""
    bindings = [b for b in prop.bindings if b.file != path]
    bindings += [Binding("a.glb", "oak", slot, path, "reference", channels) for slot, channels in uses.items()]
    maps = tuple(replace(m, slots=tuple(sorted(uses))) if m.path == path else m for m in prop.maps)
    return replace(prop, bindings=tuple(bindings), maps=maps)


def paint(boxes: Any, *, bleed: int, ground: int = 0, size: int = SIZE, seed: int = 5, channels: int = 3) -> np.ndarray:
    """Noise of 40 .. 215 in boxes (x0, y0, x1, y1 texels, y up) and `bleed` texels around each, ground elsewhere."""
    out = np.full((size, size, channels), ground, np.uint8)
    noise = np.random.default_rng(seed).integers(40, 216, (size, size, channels), np.uint8)
    for x0, y0, x1, y1 in boxes:
        rows, columns = slice(size - y1 - bleed, size - y0 + bleed), slice(x0 - bleed, x1 + bleed)
        out[rows, columns] = noise[rows, columns]
    return out


__all__ = ["DENSITY", "Pictures", "header_of", "paint", "pictures_of", "told", "told_of", "wearing", "with_uses"]
