"""Where findings lie in a picture, kept inside the picture: a text of the PNG that names a box for every letter.

So a page can show the part of a fault sheet that belongs to a finding, with nothing but the file.
"""

from __future__ import annotations

import json
import struct
from collections.abc import Mapping

KEY = "tidegate-places"
_SIGNATURE = b"\x89PNG\r\n\x1a\n"

PixelBox = tuple[int, int, int, int]


def places_text(places: Mapping[str, PixelBox]) -> str:
    """What is kept: ASCII, the letters in their order."""
    return json.dumps({letter: list(box) for letter, box in places.items()}, separators=(",", ":"))


def png_size(data: bytes) -> tuple[int, int]:
    """Width and height of a PNG file in pixels, 0 and 0 when it is none."""
    if not data.startswith(_SIGNATURE) or len(data) < 24:
        return 0, 0
    width, height = struct.unpack(">II", data[16:24])
    return width, height


def places_in(data: bytes) -> dict[str, PixelBox]:
    """Letter -> box (x0, y0, x1, y1) in pixels, half-open; empty when the picture keeps none."""
    at = len(_SIGNATURE)
    while data.startswith(_SIGNATURE) and at + 8 <= len(data):
        length, kind = struct.unpack(">I4s", data[at : at + 8])
        if kind == b"tEXt":
            key, _, text = data[at + 8 : at + 8 + length].partition(b"\0")
            if key == KEY.encode("ascii"):
                return {str(letter): _box(box) for letter, box in json.loads(text).items()}
        if kind == b"IDAT":
            break
        at += 12 + length
    return {}


def _box(numbers: list[int]) -> PixelBox:
    x0, y0, x1, y1 = (int(number) for number in numbers)
    return x0, y0, x1, y1
