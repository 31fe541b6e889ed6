"""Asking for pixels: measuring never opens a file, whoever calls it brings the reader."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any, Protocol

import numpy as np
from numpy.typing import NDArray

from tidegate.errors import LimitExceeded, NoReader, UnreadableFile
from tidegate.model.image_header import ImageLayer
from tidegate.model.prop import Master, Prop, TextureMap

Pixels = NDArray[Any]


class PictureReader(Protocol):
    """Pixels as (h, w, c), top row first; each raises UnreadableFile."""

    def pixels(self, texture: TextureMap) -> Pixels:
        """Of a map."""

    def merged(self, master: Master) -> Pixels:
        """The flattened picture of a layered master."""

    def layers(self, master: Master) -> tuple[ImageLayer, ...]:
        """The layers of a master from the top down, () where the format names none."""


@dataclass(frozen=True, slots=True)
class Undecoded:
    """A picture whose pixels a rule needed. kind: "damaged", "too large", or "no reader" for what we cannot decode."""

    path: str
    kind: str
    what: str
    help: str


def decoded(read: Callable[[], Pixels], path: str, trouble: list[Undecoded]) -> Pixels | None:
    """The pixels, or None with the reason added to `trouble`."""
    try:
        image = read()
    except UnreadableFile as error:
        kind = {LimitExceeded: "too large", NoReader: "no reader"}.get(type(error), "damaged")
        what = error.what if not error.came or kind == "no reader" else f"{error.what} ({error.came})"
        trouble.append(Undecoded(path, kind, what, error.help))
        return None
    if image.dtype not in (np.uint8, np.uint16):
        trouble.append(Undecoded(path, "no reader", f"pixels stored as {image.dtype} are not judged here", ""))
        return None
    return image


def readable_maps(prop: Prop) -> list[TextureMap]:
    """Maps of the drop itself with a whole header, by path. A read-only library is not looked into."""
    return sorted((one for one in prop.maps if one.header.readable and not one.library), key=lambda one: one.path)
