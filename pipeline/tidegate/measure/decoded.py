"""Everything that needs pixels, one decoded map at a time: each is decoded once, measured, and let go."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from functools import partial
from typing import Any

import numpy as np
from numpy.typing import NDArray

from tidegate.errors import UnreadableFile
from tidegate.measure.decoding import PictureReader, Pixels, Undecoded, decoded, readable_maps
from tidegate.measure.islands import LaidOut
from tidegate.measure.masters import MasterFacts, compared
from tidegate.measure.painted import Painted, measure_painted
from tidegate.measure.painted_layout import PaintedLayout
from tidegate.measure.pixels import USUAL_ALBEDO, MapPixels, measure_map
from tidegate.measure.seam_edges import seam_edges
from tidegate.measure.strangers import Others, Strangers
from tidegate.measure.wire import Wire, wire_of
from tidegate.model.facts import IslandColumns, PartFacts, Picture
from tidegate.model.map_uses import channels_of
from tidegate.model.mesh import MeshPart
from tidegate.model.prop import Prop, TextureMap
from tidegate.pixels.border_bands import BorderBands
from tidegate.pixels.same_picture import Signature, same_picture, signature
from tidegate.pixels.seam_points import SeamEdges

BLEED_TEXELS, ALBEDO_CODES = "bleed_texels", "albedo_codes"
USUAL_BLEED = 5  # texels, where no rule asks for a bleed: what mip level 2 reads
TRACED = ("base_color", "emission", "metalness", "roughness")  # slots in which lines of the guide are looked for
SEAMS_OF = ("base_color", "normal")  # slots whose paint is followed across seams
ON_THE_LAYOUT = ("base_color", "normal", "roughness", "metalness", "occlusion", "emission", "opacity", "height")


@dataclass(slots=True)
class LaidOutProp:
    """What is known of a prop's layouts when its maps are decoded."""

    parts: Sequence[PartFacts] = ()
    columns: IslandColumns | None = None
    pictures: Sequence[Picture] = ()
    layouts: Sequence[LaidOut] = ()
    mesh_parts: Sequence[MeshPart] = ()


@dataclass(slots=True)
class _Found:
    pixels: list[MapPixels] = field(default_factory=list)
    painted: list[Painted] = field(default_factory=list)
    masters: list[MasterFacts] = field(default_factory=list)
    trouble: list[Undecoded] = field(default_factory=list)
    signatures: dict[str, Signature] = field(default_factory=dict)


def measure_decoded(
    prop: Prop,
    groups: frozenset[str],
    laid: LaidOutProp,
    reader: PictureReader,
    settings: Mapping[str, Any],
    others: Others | None = None,
) -> dict[str, tuple[Any, ...]]:
    """The groups flat, pixels, painted and masters, as far as asked for. others: props whose layouts a map may be meant for."""
    found = _Found()
    lies_on = {texture.path: _pictures_of(prop, texture, laid) for texture in readable_maps(prop)}
    strangers = None
    if laid.columns is not None:
        strangers = Strangers(laid.columns, laid.pictures, laid.layouts, others, settings)
    walk = _Walk(prop, groups, laid, reader, settings, found, strangers)
    # Maps of one picture and size follow each other, so its layout is drawn once.
    for texture in sorted(readable_maps(prop), key=lambda one: (lies_on[one.path], one.header.width, one.path)):
        walk.one_map(texture, lies_on[texture.path])
    if "masters" in groups:
        walk.masters_alone()
    found.pixels.sort(key=lambda one: one.map)
    found.painted.sort(key=lambda one: (one.map, one.picture))
    found.masters.sort(key=lambda one: one.path)
    found.trouble.sort(key=lambda one: one.path)
    return {
        "flatness": tuple((one.map, one.flat) for one in found.pixels),
        "pixels": tuple(found.pixels),
        "same_pictures": tuple(_same(prop, found.signatures)),
        "painted": tuple(found.painted),
        "masters": tuple(found.masters),
        "undecoded": tuple(found.trouble),
    }


class _Walk:
    """Goes from map to map; holds one layout and the seams of one picture."""

    def __init__(
        self,
        prop: Prop,
        groups: frozenset[str],
        laid: LaidOutProp,
        reader: PictureReader,
        settings: Mapping[str, Any],
        found: _Found,
        strangers: Strangers | None,
    ) -> None:
        self._strangers = strangers
        self._prop, self._groups, self._laid, self._reader = prop, groups, laid, reader
        self._bleed, self._found = int(settings.get(BLEED_TEXELS) or USUAL_BLEED), found
        self._albedo = tuple(settings.get(ALBEDO_CODES) or USUAL_ALBEDO)
        self._layout: tuple[tuple[int, int, int], PaintedLayout] | None = None
        self._seams: tuple[int, SeamEdges] | None = None
        self._wire: tuple[int, Wire] | None = None
        self._partners = _material_partners(prop)

    def one_map(self, texture: TextureMap, numbers: tuple[int, ...]) -> None:
        image = decoded(lambda: self._reader.pixels(texture), texture.path, self._found.trouble)
        if image is None:
            return
        uses = channels_of(self._prop, texture.path)
        self._found.pixels.append(measure_map(texture.path, uses, image, self._inside(image, numbers), self._albedo))
        flat = self._found.pixels[-1].flat.low == self._found.pixels[-1].flat.high
        if not flat and self._partners.get(texture.path):
            self._found.signatures[texture.path] = signature(image, texture.header.lossy)
        slot = next((one for one in ON_THE_LAYOUT if one in uses), "")
        if "painted" in self._groups and slot and not flat:
            for number in numbers:
                layout = self._layout_of(number, image)
                edges = self._seams_of(number, layout) if slot in SEAMS_OF and layout.whole else None
                lossy, strange = texture.header.lossy, partial(self._strange_bands, numbers, layout.size)
                wire = self._wire_of(number) if slot in TRACED and layout.whole else None
                self._found.painted.append(
                    measure_painted(texture.path, slot, number, image, lossy, layout, edges, self._bleed, strange, wire)
                )
        if "masters" in self._groups:
            self._masters_of(texture, image, numbers)

    def _strange_bands(self, numbers: tuple[int, ...], size: tuple[int, int]) -> dict[str, BorderBands]:
        return {} if self._strangers is None else self._strangers.bands(numbers, size)

    def _masters_of(self, texture: TextureMap, image: Pixels, numbers: tuple[int, ...]) -> None:
        def wire() -> Wire | None:
            return self._wire_of(numbers[0]) if numbers else None

        for master in self._prop.masters:
            if master.map == texture.path and not master.header.problem:
                # mypy cannot infer a lambda that binds its loop variable by a default.
                merged = decoded(lambda master=master: self._reader.merged(master), master.path, self._found.trouble)  # type: ignore[misc]
                found = (None, "") if merged is None else compared(merged, image, wire, texture.header.lossy)
                self._found.masters.append(MasterFacts(master.path, master.map, self._layers(master), *found))

    def masters_alone(self) -> None:
        """Masters whose flat map was not there or could not be decoded: their layers are known all the same."""
        seen = {one.path for one in self._found.masters}
        for master in self._prop.masters:
            if master.path not in seen and not master.header.problem:
                self._found.masters.append(MasterFacts(master.path, master.map, self._layers(master)))

    def _layers(self, master: Any) -> tuple[Any, ...]:
        try:
            return self._reader.layers(master)
        except UnreadableFile as error:
            self._found.trouble.append(Undecoded(master.path, "damaged", error.what, error.help))
            return ()

    def _inside(self, image: Pixels, numbers: tuple[int, ...]) -> NDArray[np.bool_] | None:
        """Texels that islands cover; None where that is not known or the map repeats beyond its tile."""
        inside: NDArray[np.bool_] | None = None
        for number in numbers:
            layout = self._layout_of(number, image)
            if not layout.whole:
                return None
            covered = layout.labels >= 0
            inside = covered if inside is None else inside | covered
        return inside if inside is not None and inside.any() else None

    def _layout_of(self, number: int, image: Pixels) -> PaintedLayout:
        key = (number, image.shape[1], image.shape[0])
        if self._layout is None or self._layout[0] != key:
            self._layout = None  # the old one is let go before the new one is drawn
            columns = self._laid.columns
            assert columns is not None
            picture = self._laid.pictures[number]
            layout = PaintedLayout(columns, picture, self._laid.layouts, key[1:], self._bleed)
            self._layout = key, layout
        return self._layout[1]

    def _wire_of(self, number: int) -> Wire:
        if self._wire is None or self._wire[0] != number:
            columns = self._laid.columns
            assert columns is not None
            self._wire = (
                number,
                wire_of(columns, self._laid.pictures[number], self._laid.layouts, self._laid.mesh_parts),
            )
        return self._wire[1]

    def _seams_of(self, number: int, layout: PaintedLayout) -> SeamEdges:
        if self._seams is None or self._seams[0] != number:
            columns = self._laid.columns
            assert columns is not None
            picture = self._laid.pictures[number]
            self._seams = (
                number,
                seam_edges(columns, picture, self._laid.layouts, self._laid.mesh_parts, self._laid.parts, layout.rows),
            )
        return self._seams[1]


def _pictures_of(prop: Prop, texture: TextureMap, laid: LaidOutProp) -> tuple[int, ...]:
    """Pictures that this map is painted for, of the model, or where there is none of the first role.

    A picture names the maps of one variant; those of the others are found by the materials that wear them.
    """
    roles = [picture.role for picture in laid.pictures]
    role = "model" if "model" in roles else min(roles, default="")
    worn = {(b.mesh_file, b.material, b.uv_layer) for b in prop.bindings if b.file == texture.path}
    tiles = {b.tile for b in prop.bindings if b.file == texture.path}
    found = []
    for number, picture in enumerate(laid.pictures):
        if picture.role != role or (tiles and None not in tiles and picture.tile not in tiles):
            continue
        wearers = {(laid.parts[part].file, laid.parts[part].material, picture.uv_layer) for part in picture.parts}
        if wearers & worn:
            found.append(number)
    return tuple(found)


def _material_partners(prop: Prop) -> dict[str, set[str]]:
    """Map -> other maps that one material wears with it, in the same variant and tile."""
    wearers: dict[tuple[str, str, str, int | None], set[str]] = {}
    for binding in prop.bindings:
        key = (binding.mesh_file, binding.material, binding.variant, binding.tile)
        wearers.setdefault(key, set()).add(binding.file)
    partners: dict[str, set[str]] = {}
    for files in wearers.values():
        for file in files:
            partners.setdefault(file, set()).update(files - {file})
    return partners


def _same(prop: Prop, signatures: Mapping[str, Signature]) -> list[tuple[str, str]]:
    """Pairs of maps of one material that hold the same picture and serve no slot in common."""
    partners = _material_partners(prop)
    slots = {path: set(channels_of(prop, path)) for path in signatures}
    found = []
    for one in sorted(signatures):
        for other in sorted(partners.get(one, ())):
            if other not in signatures or other <= one or slots[one] & slots[other]:
                continue
            if same_picture(signatures[one], signatures[other]) == "same":
                found.append((one, other))
    return found
