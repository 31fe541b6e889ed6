"""Painting into an RGB array: flat color, by mask and by soft coverage."""

from __future__ import annotations

import io
from collections.abc import Mapping

import numpy as np
from numpy.typing import NDArray
from PIL import Image
from PIL.PngImagePlugin import PngInfo

from tidegate.draw.lines import line_coverage
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


def window(points: NDArray[np.float64], room: float, width: int, height: int) -> tuple[slice, slice]:
    """Rows and columns of a canvas about points (2, n) with room on every side; empty where they lie beside it."""
    finite = points[:, np.isfinite(points).all(axis=0)]
    if finite.shape[1] == 0:
        return slice(0, 0), slice(0, 0)
    low, high = finite.min(axis=1) - room, finite.max(axis=1) + room
    x0, x1 = (int(np.clip(edge, 0, width)) for edge in (np.floor(low[0]), np.ceil(high[0])))
    y0, y1 = (int(np.clip(edge, 0, height)) for edge in (np.floor(low[1]), np.ceil(high[1])))
    return slice(y0, y1), slice(x0, x1)


def draw_lines(canvas: Canvas, segments: NDArray[np.float64], line: float, color: Color) -> None:
    """Soft lines of a width in one color. Works on the part of the canvas that they lie in."""
    height, width = canvas.shape[:2]
    rows, columns = window(segments.reshape(2, 2, -1).transpose(1, 0, 2).reshape(2, -1), 2 * line + 2, width, height)
    part = canvas[rows, columns]
    if part.size:
        moved = segments - np.array([columns.start, rows.start, columns.start, rows.start], float)[:, None]
        blend(part, line_coverage(moved, line, part.shape[1], part.shape[0]), color)


def png_bytes(picture: Image.Image, level: int = 6, places: Mapping[str, PixelBox] | None = None) -> bytes:
    """The picture as a PNG file. level: of compression, 0..9. places: what `picture_places` keeps in it."""
    out = io.BytesIO()
    info = PngInfo()
    if places:
        info.add_text(KEY, places_text(places))
    picture.save(out, "PNG", compress_level=level, pnginfo=info)
    return out.getvalue()
