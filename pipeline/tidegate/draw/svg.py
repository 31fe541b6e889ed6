"""Lines and words as SVG 1.1, one unit a texel."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple
from xml.sax.saxutils import escape, quoteattr

import numpy as np
from numpy.typing import NDArray

from tidegate.draw.palette import Color
from tidegate.model.printable import printable


class Fill(NamedTuple):
    """Triangles (3, 2, m) filled with a color, as one surface without lines between them."""

    color: Color
    corners: NDArray[np.float64]


class Group(NamedTuple):
    """Strokes (4, s) of one color and width, and fills laid over them. title: what viewers tell of the group."""

    name: str
    color: Color
    width: float
    segments: NDArray[np.float64]
    fills: tuple[Fill, ...] = ()
    title: str = ""


class Words(NamedTuple):
    """A text with its middle and the size of its type in texels."""

    text: str
    x: float
    y: float
    size: int


def svg(
    width: int,
    height: int,
    ground: Color,
    groups: Sequence[Group],
    words: Sequence[Words],
    ink: Color,
    halo: float = 0.0,
) -> bytes:
    """The drawing, groups from the lowest to the uppermost, words over all. halo: width of the ground's color behind words."""
    rows = [
        '<?xml version="1.0" encoding="UTF-8"?>',
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{width}" height="{height}" viewBox="0 0 {width} {height}">',
        f'<rect id="ground" width="{width}" height="{height}" fill="{_hex(ground)}"/>',
    ]
    for group in groups:
        rows.append(
            f'<g id={quoteattr(printable(group.name).replace(" ", "-"))} fill="none" stroke="{_hex(group.color)}" '
            f'stroke-width="{_number(group.width)}" stroke-linecap="round">'
        )
        if group.title:
            rows.append(f"<title>{escape(printable(group.title))}</title>")
        if group.segments.size:
            rows.append(f'<path d="{_strokes(group.segments)}"/>')
        rows += [f'<path stroke="none" fill="{_hex(f.color)}" d="{_triangles(f.corners)}"/>' for f in group.fills]
        rows.append("</g>")
    if words:
        rows.append(
            f'<g id="numbers" fill="{_hex(ink)}" text-anchor="middle" font-family="sans-serif" stroke="{_hex(ground)}" '
            f'stroke-width="{_number(halo)}" stroke-linejoin="round" paint-order="stroke">'
        )
        for word in words:
            # The baseline lies about a third of the type's size below the middle of its digits.
            place = f'x="{_number(word.x)}" y="{_number(word.y + 0.35 * word.size)}"'
            rows.append(f'<text {place} font-size="{word.size}">{escape(printable(word.text))}</text>')
        rows.append("</g>")
    rows.append("</svg>")
    return ("\n".join(rows) + "\n").encode("utf-8")


def _strokes(segments: NDArray[np.float64]) -> str:
    kept = segments[:, np.isfinite(segments).all(axis=0)]
    return "".join(f"M{a:.7g} {b:.7g}L{c:.7g} {d:.7g}" for a, b, c, d in np.round(kept, 3).T.tolist())


def _triangles(corners: NDArray[np.float64]) -> str:
    """All turned one way round: of two ways over one place nothing would be filled."""
    a, b, c = corners
    turned = (b[0] - a[0]) * (c[1] - a[1]) < (c[0] - a[0]) * (b[1] - a[1])
    flat = np.concatenate([a, np.where(turned, c, b), np.where(turned, b, c)])
    flat = np.round(flat, 3)[:, np.isfinite(flat).all(axis=0)]
    return "".join(f"M{a:.7g} {b:.7g}L{c:.7g} {d:.7g} {e:.7g} {f:.7g}Z" for a, b, c, d, e, f in flat.T.tolist())


def _number(value: float) -> str:
    return f"{round(value, 3):.7g}"


def _hex(color: Color) -> str:
    return "#{:02x}{:02x}{:02x}".format(*color)
