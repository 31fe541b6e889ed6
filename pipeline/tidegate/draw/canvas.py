"""Painting into an RGB array: flat color, by mask and by soft coverage."""

from __future__ import annotations

import io
from collections.abc import Mapping

import numpy as np
from numpy.typing import NDArray
from PIL import Image
from PIL.PngImagePlugin import PngInfo

from tidegate.draw.palette import Color
from tidegate.model.picture_places import KEY, PixelBox, places_text

Canvas = NDArray[np.uint8]


def blank(width: int, height: int, color: Color) -> Canvas:
    """(height, width, 3) of one color."""
    canvas = np.empty((height, width, 3), np.uint8)
    canvas[:] = color
    return canvas


def fill(canvas: Canvas, mask: NDArray[np.bool_], color: Color) -> None:
    """One color wherever the mask is set."""
    canvas[mask] = color


def blend(canvas: Canvas, coverage: NDArray[np.uint8], color: Color) -> None:
    """One color over the canvas, by a coverage in 255ths. Whole numbers only, so that every machine rounds alike."""
    touched = np.nonzero(coverage)
    share = coverage[touched].astype(np.int32)[:, None]
    under = canvas[touched].astype(np.int32)
    mixed = under * (255 - share) + np.array(color, np.int32) * share
    canvas[touched] = ((mixed + 127) // 255).astype(np.uint8)


def png_bytes(picture: Image.Image, level: int = 6, places: Mapping[str, PixelBox] | None = None) -> bytes:
    """The picture as a PNG file. level: of compression, 0..9. places: what `picture_places` keeps in it."""
    out = io.BytesIO()
    info = PngInfo()
    if places:
        info.add_text(KEY, places_text(places))
    picture.save(out, "PNG", compress_level=level, pnginfo=info)
    return out.getvalue()
