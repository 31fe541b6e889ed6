"""Layered pictures as OpenRaster files (openraster.org, version 0.0.5): a ZIP of PNGs with a list of layers."""

from __future__ import annotations

import io
import zipfile
from collections.abc import Sequence
from typing import NamedTuple
from xml.sax.saxutils import quoteattr

import numpy as np
from numpy.typing import NDArray
from PIL import Image

from tidegate.draw.canvas import png_bytes
from tidegate.draw.quick_png import quick_png
from tidegate.model.printable import printable

_DAY = (1980, 1, 1, 0, 0, 0)  # the first a ZIP knows: the same layers give the same bytes
_THUMBNAIL = 256  # pixels at most, as the standard has it


class Layer(NamedTuple):
    """A layer as large as the picture: (height, width, channels)."""

    name: str
    picture: NDArray[np.uint8]


def openraster(layers: Sequence[Layer], merged: NDArray[np.uint8]) -> bytes:
    """The file. layers: from the lowest to the uppermost. merged: all of them together, for programs that want one."""
    height, width = merged.shape[:2]
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w") as archive:
        _add(archive, "mimetype", b"image/openraster", zipfile.ZIP_STORED)  # first and stored, or no one knows the file
        rows = [f'<image version="0.0.5" w="{width}" h="{height}"><stack>']
        for number, layer in reversed(list(enumerate(layers))):
            # The name tells viewers what to switch off; the uppermost stands first.
            rows.append(f'<layer name={quoteattr(printable(layer.name))} src="data/layer{number}.png" x="0" y="0"/>')
        rows.append("</stack></image>")
        text = '<?xml version="1.0" encoding="UTF-8"?>\n' + "\n".join(rows) + "\n"
        _add(archive, "stack.xml", text.encode("utf-8"), zipfile.ZIP_DEFLATED)
        for number, layer in enumerate(layers):
            _add(archive, f"data/layer{number}.png", quick_png(layer.picture), zipfile.ZIP_STORED)
        small = Image.fromarray(merged)
        small.thumbnail((_THUMBNAIL, _THUMBNAIL))
        _add(archive, "Thumbnails/thumbnail.png", png_bytes(small), zipfile.ZIP_STORED)
        _add(archive, "mergedimage.png", quick_png(merged), zipfile.ZIP_STORED)
    return out.getvalue()


def _add(archive: zipfile.ZipFile, name: str, data: bytes, method: int) -> None:
    entry = zipfile.ZipInfo(name, _DAY)
    entry.compress_type = method
    entry.create_system = 3  # the same on every system
    entry.external_attr = 0o644 << 16
    archive.writestr(entry, data)
