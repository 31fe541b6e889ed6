"""Layers of a layered master, by name."""

from __future__ import annotations

import struct
from pathlib import Path

from ..errors import UnreadableFile
from ..model.image_header import ImageHeader, ImageLayer
from .headers import openraster, psd
from .headers.window import Window, Wrong


def read_layers(source: Path | bytes, header: ImageHeader) -> tuple[ImageLayer, ...]:
    """Layers from the top down, folders left out, of a PSD or OpenRaster file; () for formats whose layers have no names.

    A layer inside a hidden folder is hidden, and a folder's opacity weighs on its layers. header: of this very source.
    Raises UnreadableFile when the layers cannot be read.
    """
    reader = {"psd": _psd, "openraster": openraster.layers}.get(header.format)
    if reader is None or header.problem:
        return ()
    try:
        with Window(source) as file:
            return reader(file)
    except (Wrong, OSError, struct.error, ValueError) as error:
        raise UnreadableFile(
            "the layers cannot be read",
            path=str(source) if isinstance(source, Path) else "",
            came=str(error),
            help="save the master again",
        ) from error


def _psd(file: Window) -> tuple[ImageLayer, ...]:
    """Stored bottom first; from the top, a folder comes before what it holds and a divider ends it."""
    found: list[ImageLayer] = []
    folders: list[tuple[bool, float]] = [(True, 1.0)]
    for record in reversed(psd.layer_records(file)):
        visible, opacity = folders[-1][0] and record.visible, folders[-1][1] * record.opacity
        if record.group == "folder":
            folders.append((visible, opacity))
        elif record.group == "end of folder":
            if len(folders) > 1:
                folders.pop()
        else:
            found.append(ImageLayer(record.name, visible, opacity))
    return tuple(found)
