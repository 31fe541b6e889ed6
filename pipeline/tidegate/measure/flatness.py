"""Whether maps are one flat color, decoding only those that may be."""

from __future__ import annotations

from typing import Any

from tidegate.measure.decoding import PictureReader, Pixels, Undecoded, decoded, readable_maps
from tidegate.model.image_header import ImageHeader
from tidegate.model.prop import Prop
from tidegate.pixels.flat import Flatness, flatness

_FLAT_PACKS = 50  # bytes of raw texels that stand for one stored byte, at least, where a flat map was compressed
_BESIDE = 4096  # bytes of a file that may hold something else, such as a colour profile


def may_be_flat(header: ImageHeader) -> bool:
    """Whether a map of so few bytes can be one flat colour: what must be decoded to see, and what need not.

    A flat picture packs at least 50 to 1 in every packing used for pictures; saved without packing its length says nothing.
    """
    raw = header.width * header.height * max(header.bits_per_pixel, 1) // 8
    return header.compression in ("", "none") or header.bytes <= raw // _FLAT_PACKS + _BESIDE


def map_flatness(image: Pixels) -> Flatness:
    """Flatness of a decoded map."""
    return flatness(image, alpha=image.shape[2] in (2, 4))


def measure_flatness(prop: Prop, reader: PictureReader) -> dict[str, tuple[Any, ...]]:
    """Flatness of the maps that may be one flat colour by their length; the others are not decoded."""
    trouble: list[Undecoded] = []
    found = []
    for texture in readable_maps(prop):
        if may_be_flat(texture.header):
            # mypy cannot infer a lambda that binds its loop variable by a default.
            image = decoded(lambda texture=texture: reader.pixels(texture), texture.path, trouble)  # type: ignore[misc]
            if image is not None:
                found.append((texture.path, map_flatness(image)))
    return {"flatness": tuple(found), "undecoded": tuple(trouble)}
