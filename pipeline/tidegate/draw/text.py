"""Words in pictures, in the typeface that Pillow carries: the same on every machine."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterator
from functools import cache

from PIL import ImageDraw, ImageFont

from tidegate.draw.palette import Color
from tidegate.model.printable import printable

_SPACE = 0.36
"""Room between words in parts of the type size. The space of the typeface itself is so narrow that bold words run together."""
_JOINTS = "_-./\\"  # behind which a long name is cut
_HEAVIER = 0.55  # pixels between the two times that a bold letter is drawn: Pillow carries one weight


@cache
def font(size: int) -> ImageFont.FreeTypeFont:
    """The typeface at a size in pixels."""
    loaded = ImageFont.load_default(float(size))
    assert isinstance(loaded, ImageFont.FreeTypeFont), "Pillow was built without FreeType"
    return loaded


def width_of(text: str, size: int, *, bold: bool = False) -> int:
    """Pixels a line of text takes across."""
    return int(_length(drawable(text), size, bold)) + 1


def drawable(text: str) -> str:
    """The text as it is drawn. The typeface has little beyond ASCII: what it lacks stands as an escape, which tells one
    letter from another, and not as the box that stands for all of them."""
    text = printable(text)
    return text if text.isascii() else "".join(map(_sign, text))


@cache
def _sign(letter: str) -> str:
    """The letter, or its escape where the typeface lacks it."""
    lacking = bytes(font(16).getmask(letter)) == bytes(font(16).getmask(_NO_LETTER))
    return letter.encode("unicode_escape").decode("ascii") if lacking else letter


_NO_LETTER = "\uffff"  # Unicode, section 23.7: never a letter, so the typeface shows its box


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
    text = drawable(text)
    if anchor[0] == "m":
        x -= _length(text, size, bold) / 2
    for word in text.split(" "):
        if bold:
            _heavy(draw, (x, y), word, ink, size, anchor=f"l{anchor[1]}")
        else:
            draw.text((x, y), word, ink, font(size), anchor=f"l{anchor[1]}")
        x += _word(word, size, bold) + _SPACE * size


def _heavy(
    draw: ImageDraw.ImageDraw, at: tuple[float, float], word: str, ink: Color, size: int, *, anchor: str
) -> None:
    """A word letter by letter, each drawn twice, and as much farther apart as that makes them wider."""
    x, y = at
    for letter in word:
        for nudge in (0.0, _HEAVIER):  # from a whole pixel on: between pixels, the second time would only blur it
            draw.text((round(x) + nudge, y), letter, ink, font(size), anchor=anchor)
        x += _advance(letter, size) + _HEAVIER


def _length(text: str, size: int, bold: bool) -> float:
    words = text.split(" ")
    return sum(_word(word, size, bold) for word in words) + _SPACE * size * (len(words) - 1)


def _word(word: str, size: int, bold: bool) -> float:
    if bold:
        return sum(_advance(letter, size) + _HEAVIER for letter in word)
    return font(size).getlength(word)


@cache
def _advance(letter: str, size: int) -> float:
    return font(size).getlength(letter)


def line_height(size: int) -> int:
    """Pixels from one line of text to the next."""
    return int(size * 1.35) + 1


def wrapped(text: str, size: int, width: int, *, bold: bool = False) -> list[str]:
    """Lines of at most `width` pixels. A word that is longer is cut, a name between its words if it can be; nothing is left
    out."""
    lines: list[str] = []
    line = ""
    for word in _words(text, size, width, bold):
        longer = f"{line} {word}" if line else word
        if not line or width_of(longer, size, bold=bold) <= width:
            line = longer
        else:
            lines.append(line)
            line = word
    return [*lines, line] if line else lines


def shortened(text: str, size: int, width: int, *, bold: bool = False) -> str:
    """The text, or as much of its beginning as fits with three dots behind it."""
    if width_of(text, size, bold=bold) <= width:
        return text
    while text and width_of(text + "...", size, bold=bold) > width:
        text = text[:-1]
    return text + "..."


def _words(text: str, size: int, width: int, bold: bool) -> Iterator[str]:
    for word in text.split():
        rest = word
        while width_of(rest, size, bold=bold) > width and len(rest) > 1:
            letters = range(1, len(rest))
            cut = max(1, bisect_right(letters, width, key=lambda end: width_of(rest[:end], size, bold=bold)))
            joint = max(rest.rfind(sign, 0, cut) for sign in _JOINTS) + 1
            cut = joint if 2 * joint >= cut else cut
            yield rest[:cut]
            rest = rest[cut:]
        yield rest
