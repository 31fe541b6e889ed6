"""Words in pictures, in the typeface that Pillow carries: the same on every machine."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterator
from functools import cache

from PIL import ImageDraw, ImageFont

from tidegate.draw.palette import Color

_SPACE = 0.36
"""Room between words in parts of the type size. The space of the typeface itself is so narrow that bold words run together."""
_HEAVIER = 0.55  # pixels between the two times that a bold word is drawn: Pillow carries one weight


@cache
def font(size: int) -> ImageFont.FreeTypeFont:
    """The typeface at a size in pixels."""
    loaded = ImageFont.load_default(float(size))
    assert isinstance(loaded, ImageFont.FreeTypeFont), "Pillow was built without FreeType"
    return loaded


def width_of(text: str, size: int) -> int:
    """Pixels a line of text takes across."""
    return int(_length(text, size)) + 1


def write(
    draw: ImageDraw.ImageDraw,
    at: tuple[float, float],
    text: str,
    ink: Color,
    size: int,
    *,
    anchor: str = "la",
    bold: bool = False,
) -> None:
    """A line of text, word by word. anchor: as Pillow has it, `l` or `m` across."""
    x, y = at
    if anchor[0] == "m":
        x -= _length(text, size) / 2
    for word in text.split(" "):
        x = round(x) if bold else x  # between pixels, the second time would only blur it
        for nudge in (0.0, _HEAVIER) if bold else (0.0,):
            draw.text((x + nudge, y), word, ink, font(size), anchor=f"l{anchor[1]}")
        x += font(size).getlength(word) + _SPACE * size


def _length(text: str, size: int) -> float:
    words = text.split(" ")
    return sum(font(size).getlength(word) for word in words) + _SPACE * size * (len(words) - 1)


def line_height(size: int) -> int:
    """Pixels from one line of text to the next."""
    return int(size * 1.35) + 1


def wrapped(text: str, size: int, width: int) -> list[str]:
    """Lines of at most `width` pixels. A word that is longer is cut; nothing is left out."""
    lines: list[str] = []
    line = ""
    for word in _words(text, size, width):
        longer = f"{line} {word}" if line else word
        if not line or width_of(longer, size) <= width:
            line = longer
        else:
            lines.append(line)
            line = word
    return [*lines, line] if line else lines


def shortened(text: str, size: int, width: int) -> str:
    """The text, or as much of its beginning as fits with three dots behind it."""
    if width_of(text, size) <= width:
        return text
    while text and width_of(text + "...", size) > width:
        text = text[:-1]
    return text + "..."


def _words(text: str, size: int, width: int) -> Iterator[str]:
    for word in text.split():
        rest = word
        while width_of(rest, size) > width and len(rest) > 1:
            letters = range(1, len(rest))
            cut = max(1, bisect_right(letters, width, key=lambda end: width_of(rest[:end], size)))
            yield rest[:cut]
            rest = rest[cut:]
        yield rest
