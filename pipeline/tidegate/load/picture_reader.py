"""Pixels of a prop's maps and masters, read when they are asked for."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from tidegate.model.image_header import ImageLayer
    from tidegate.model.prop import Master, TextureMap


class DiskPictures:
    """Reads each picture anew: whoever asks holds one at a time. Every method raises UnreadableFile."""

    def pixels(self, texture: TextureMap) -> NDArray[Any]:
        """Pixels of a map as (h, w, c), top row first."""
        from .pixels import decode

        source = texture.blob if texture.blob is not None else Path(texture.location)
        return decode(source, texture.header, name=texture.path)

    def merged(self, master: Master) -> NDArray[Any]:
        """The flattened picture of a layered master."""
        from .pixels import merged_picture

        return merged_picture(Path(master.location), master.header, name=master.path)

    def layers(self, master: Master) -> tuple[ImageLayer, ...]:
        """Layers of a master from the top down."""
        from .layers import read_layers

        return read_layers(Path(master.location), master.header)
