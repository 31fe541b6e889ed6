"""Cut-outs of the maps themselves: the place of a finding, texel for texel, with a frame around it."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from typing import Any

import numpy as np
from numpy.typing import NDArray
from PIL import Image, ImageDraw

from tidegate.draw.canvas import png_bytes
from tidegate.draw.marks import letter_of, style_of
from tidegate.draw.palette import FAINT_INK, INK, PAPER
from tidegate.draw.text import font, line_height, shortened
from tidegate.model.facts import Facts
from tidegate.model.finding import Finding
from tidegate.model.prop import TextureMap
from tidegate.pixels.boxes import Box, cut_out
from tidegate.pixels.resample import eight_bit

MOST = 12
"""Cut-outs beside one report: of the findings that stand first."""
LEAST, LARGEST = 96, 512
"""Texels a side that are shown at least and at most; of a larger place its middle is shown."""
ENLARGED = 384
"""Pixels up to which a small cut-out is enlarged, by a whole number, so that single texels are seen."""
_ROOM = 12  # pixels around the picture
_TEXT = 13  # pixels of the type
_WIDEST = 8  # times a texel is enlarged at most

Pixels = NDArray[Any]
ReadMap = Callable[[TextureMap], Pixels | None]
"""Pixels of a map as (h, w, c), top row first; None where they cannot be had."""


def cut_outs(facts: Facts, findings: Sequence[Finding], read: ReadMap) -> list[tuple[str, bytes]]:
    """(letter, PNG bytes) for the first findings that name a pixel box of a map, in their order. Each map is read once."""
    maps = {texture.path: texture for texture in facts.prop.maps}
    wanted = [
        (number, finding)
        for number, finding in enumerate(findings)
        if finding.place.pixel_box is not None and finding.place.map in maps
    ][:MOST]
    drawn: dict[int, bytes] = {}
    for path in sorted({finding.place.map for _, finding in wanted}):
        image = read(maps[path])
        for number, finding in wanted:
            if image is not None and finding.place.map == path:
                picture = _drawn(number, finding, image)
                if picture is not None:
                    drawn[number] = png_bytes(picture)
        del image  # one map is held at a time
    return [(letter_of(number, finding), drawn[number]) for number, finding in wanted if number in drawn]


def _drawn(number: int, finding: Finding, image: Pixels) -> Image.Image | None:
    height, width = image.shape[:2]
    assert finding.place.pixel_box is not None
    x0, y0, x1, y1 = finding.place.pixel_box
    place = (max(x0, 0), max(y0, 0), min(x1, width), min(y1, height))
    if place[0] >= place[2] or place[1] >= place[3]:
        return None
    left, top, right, bottom = _shown(place, width, height)
    times = min(max(1, ENLARGED // max(right - left, bottom - top)), _WIDEST)
    texels = _colors(image[top:bottom, left:right]).repeat(times, axis=0).repeat(times, axis=1)
    line = line_height(_TEXT)
    head = 2 * line + _ROOM
    scale = f", {times} times enlarged" if times > 1 else ", texel for pixel"
    told = f"texels {left}..{right} by {top}..{bottom} of {width} x {height}{scale}"
    wide = max(texels.shape[1], math.ceil(font(_TEXT).getlength(told)))
    sheet = Image.new("RGB", (wide + 2 * _ROOM, texels.shape[0] + head + 2 * _ROOM), PAPER)
    pen = ImageDraw.Draw(sheet)
    letter, room = letter_of(number, finding), sheet.width - 2 * _ROOM
    for nudge in (0.0, 0.6):  # bold, as the headings of the other sheets
        pen.text((_ROOM + nudge, _ROOM), shortened(f"{letter}  {finding.place.map}", _TEXT, room), INK, font(_TEXT))
    pen.text((_ROOM, _ROOM + line), told, FAINT_INK, font(_TEXT))
    at = (_ROOM, _ROOM + head)
    sheet.paste(Image.fromarray(texels), at)
    frame = tuple(
        at[k % 2] + (side - (left, top)[k % 2]) * times
        for k, side in enumerate(_inside(place, (left, top, right, bottom)))
    )
    _frame(pen, frame, style_of(number)[0])
    return sheet


def _shown(place: Box, width: int, height: int) -> Box:
    """What is cut out: the place with room around it, no more than LARGEST texels a side about its middle."""
    left, top, right, bottom = cut_out(place, width, height, LEAST)
    sides = []
    for low, high in ((left, right), (top, bottom)):
        start = max(low, (low + high - LARGEST) // 2)
        sides.append((start, min(high, start + LARGEST)))
    return sides[0][0], sides[1][0], sides[0][1], sides[1][1]


def _inside(place: Box, shown: Box) -> Box:
    """The part of a place that is shown; a place that goes on beyond the cut-out has its frame at the border."""
    return (
        max(place[0], shown[0]),
        max(place[1], shown[1]),
        min(place[2], shown[2]),
        min(place[3], shown[3]),
    )


def _frame(pen: ImageDraw.ImageDraw, box: tuple[int, ...], color: tuple[int, int, int]) -> None:
    """A frame just outside the box, between two light lines and two dark ones, so that it stands out on any paint."""
    x0, y0, x1, y1 = box
    for out, ink in ((5, INK), (4, PAPER), (3, color), (2, color), (1, PAPER)):
        pen.rectangle((x0 - out, y0 - out, x1 + out - 1, y1 + out - 1), outline=ink)


def _colors(texels: Pixels) -> NDArray[np.uint8]:
    """(h, w, 3) of 8 bits as the map stores them: grey three times, alpha left out."""
    eight = eight_bit(texels)
    return np.ascontiguousarray(eight[:, :, :3] if eight.shape[2] >= 3 else eight[:, :, :1].repeat(3, axis=2))
