"""Lines and words as SVG 1.1, one unit a texel."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple
from xml.sax.saxutils import escape, quoteattr

import numpy as np
from numpy.typing import NDArray

from tidegate.draw.palette import Color


class Group(NamedTuple):
    """Strokes of one color and width. cover: triangles (3, 2, m) laid over them in a color, to leave only what sticks out."""

    name: str
    color: Color
    width: float
    segments: NDArray[np.float64]
    cover: tuple[NDArray[np.float64], Color] | None = None


class Words(NamedTuple):
    """A text with its middle and the size of its type in texels."""

    text: str
    x: float
    y: float
    size: int


def svg(width: int, height: int, ground: Color, groups: Sequence[Group], words: Sequence[Words], ink: Color) -> bytes:
    """The drawing, groups from the lowest to the uppermost."""
    rows = [
        '<?xml version="1.0" encoding="UTF-8"?>',
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{width}" height="{height}" viewBox="0 0 {width} {height}">',
        f'<rect id="ground" width="{width}" height="{height}" fill="{_hex(ground)}"/>',
    ]
    for group in groups:
        rows.append(
            f'<g id={quoteattr(group.name.replace(" ", "-"))} fill="none" stroke="{_hex(group.color)}" '
            f'stroke-width="{_number(group.width)}" stroke-linecap="round"><path d="{_strokes(group.segments)}"/>'
        )
        if group.cover is not None:
            corners, color = group.cover
            rows.append(f'<path stroke="none" fill="{_hex(color)}" d="{_triangles(corners)}"/>')
        rows.append("</g>")
    if words:
        rows.append(f'<g id="numbers" fill="{_hex(ink)}" text-anchor="middle" font-family="sans-serif">')
        for word in words:
            # The baseline lies about a third of the type's size below the middle of its digits.
            place = f'x="{_number(word.x)}" y="{_number(word.y + 0.35 * word.size)}"'
            rows.append(f'<text {place} font-size="{word.size}">{escape(word.text)}</text>')
        rows.append("</g>")
    rows.append("</svg>")
    return ("\n".join(rows) + "\n").encode("utf-8")


def _strokes(segments: NDArray[np.float64]) -> str:
    kept = segments[:, np.isfinite(segments).all(axis=0)]
    return "".join(f"M{a:.7g} {b:.7g}L{c:.7g} {d:.7g}" for a, b, c, d in np.round(kept, 3).T.tolist())


def _triangles(corners: NDArray[np.float64]) -> str:
    flat = np.round(corners.reshape(6, -1), 3)
    flat = flat[:, np.isfinite(flat).all(axis=0)]
    return "".join(f"M{a:.7g} {b:.7g}L{c:.7g} {d:.7g} {e:.7g} {f:.7g}Z" for a, b, c, d, e, f in flat.T.tolist())


def _number(value: float) -> str:
    return f"{round(value, 3):.7g}"


def _hex(color: Color) -> str:
    return "#{:02x}{:02x}{:02x}".format(*color)
