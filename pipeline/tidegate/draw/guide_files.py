"""A guide sheet as files: lines alone, flat pictures, SVG, and OpenRaster with everything on a layer of its own."""

from __future__ import annotations

import io
from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray
from PIL import Image

from tidegate.draw.canvas import Canvas, blank, blend
from tidegate.draw.guide_layers import OUTLINE_TIMES, GuideLayers
from tidegate.draw.openraster import Layer, openraster
from tidegate.draw.palette import BLUE, GREEN, ORANGE, PURPLE, SKY, Color, ink_on
from tidegate.draw.quick_png import quick_png
from tidegate.draw.svg import Fill, Group, Words, svg

TINTS: tuple[Color, ...] = (SKY, ORANGE, GREEN, PURPLE, BLUE)
TINT_SHARE = 56  # of 255
ZONE: Color = (150, 150, 144)
ZONE_SHARE = 110
HALO_SHARE = 220
DASHED = "dashed where the surface ends"
"""Told where the sheet has room for words: an outline drawn through is a seam, across which the surface goes on."""


def lines_png(layers: GuideLayers, ground: Color) -> bytes:
    """The lines and nothing else, see-through elsewhere. The ground is not drawn; it decides whether they are dark or light."""
    return quick_png(_see_through(layers.wire, ink_on(ground)))


def flat_png(layers: GuideLayers, ground: Color) -> bytes:
    """Everything on the ground color in one picture."""
    return quick_png(_flat(layers, ground))


def flat_tga(layers: GuideLayers, ground: Color) -> bytes:
    """The same as a TGA, 24 bits, packed in runs, from the top."""
    out = io.BytesIO()
    Image.fromarray(_flat(layers, ground)).save(out, "TGA", compression="tga_rle", orientation=-1)
    return out.getvalue()


def drawn_svg(layers: GuideLayers, ground: Color) -> bytes:
    """Tinted islands, lines, markers and numbers as fills, strokes and text, in groups that can be hidden."""
    line, ink = layers.line, ink_on(ground)
    groups = []
    pixels, row = layers.shown
    if layers.bleed:
        groups.append(
            Group(
                "bleed zone",
                _mixed(ZONE, ground, ZONE_SHARE),
                2.0 * layers.bleed,
                layers.zone_edges,
                fills=(Fill(ground, pixels),),
            )
        )
    tinted = [
        Fill(_mixed(tint, ground, TINT_SHARE), pixels[:, :, row % len(TINTS) == number])
        for number, tint in enumerate(TINTS)
    ]
    groups += [
        Group("islands", ink, 0.0, np.zeros((4, 0)), fills=tuple(fill for fill in tinted if fill.corners.size)),
        Group("inner edges", ink, line, layers.edges.inner),
        Group("outlines", ink, OUTLINE_TIMES * line, layers.outline_segments, title=f"outlines of islands, {DASHED}"),
        Group("halos", _mixed(ground, ink, HALO_SHARE), 1.5 * line + 2.0 * layers.halo_width, layers.marker_segments),
        Group("markers", ink, 1.5 * line, layers.marker_segments),
    ]
    words = [Words(number.text, number.x, number.y, number.size) for number in layers.numbers]
    return svg(layers.width, layers.height, ground, groups, words, ink, 2.0 * layers.halo_width)


def layered_ora(layers: GuideLayers, ground: Color) -> bytes:
    """OpenRaster: ground, bleed zone, islands, wire, and markers with numbers. The guide is hidden layer by layer."""
    inside = layers.owner >= 0
    stack = [Layer("ground", blank(layers.width, layers.height, ground))]
    if layers.bleed:
        stack.append(Layer("bleed zone", _see_through(layers.zone.astype(np.uint8) * np.uint8(ZONE_SHARE), ZONE)))
    tinted = np.zeros((layers.height, layers.width, 4), np.uint8)
    tinted[inside, :3] = np.array(TINTS, np.uint8)[layers.owner[inside] % len(TINTS)]
    tinted[inside, 3] = TINT_SHARE
    stack.append(Layer("islands", tinted))
    stack.append(Layer(f"wire, {DASHED}", _see_through(layers.wire, ink_on(ground))))
    stack.append(Layer("markers and numbers", _haloed(layers, ground)))
    return openraster(stack, _flat(layers, ground))


FORMS: dict[str, tuple[str, Callable[[GuideLayers, Color], bytes]]] = {
    "png": ("lines.png", lines_png),
    "flat": ("flat.png", flat_png),
    "tga": ("flat.tga", flat_tga),
    "svg": ("lines.svg", drawn_svg),
    "ora": ("layers.ora", layered_ora),
}
"""Form -> (ending of the file name, how it is made)."""


def _mixed(color: Color, ground: Color, share: int) -> Color:
    """What a color looks like over the ground at a share in 255ths."""
    r, g, b = ((c * share + under * (255 - share) + 127) // 255 for c, under in zip(color, ground, strict=True))
    return r, g, b


def _see_through(coverage: NDArray[np.uint8], color: Color) -> NDArray[np.uint8]:
    picture = np.empty((*coverage.shape, 4), np.uint8)
    picture[..., :3] = color
    picture[..., 3] = coverage
    return picture


def _flat(layers: GuideLayers, ground: Color) -> Canvas:
    """All layers in one, as OpenRaster viewers show them."""
    canvas = blank(layers.width, layers.height, ground)
    if layers.bleed:
        blend(canvas, layers.zone.astype(np.uint8) * np.uint8(ZONE_SHARE), ZONE)
    mixed = np.array([_mixed(tint, ground, TINT_SHARE) for tint in TINTS], np.uint8)
    inside = layers.owner >= 0
    canvas[inside] = mixed[layers.owner[inside] % len(TINTS)]
    ink = ink_on(ground)
    blend(canvas, layers.wire, ink)
    blend(canvas, _faint(layers.halo), ground)
    blend(canvas, layers.signs, ink)
    return canvas


def _faint(halo: NDArray[np.uint8]) -> NDArray[np.uint8]:
    faint: NDArray[np.uint8] = (halo.astype(np.uint16) * HALO_SHARE // 255).astype(np.uint8)
    return faint


def _haloed(layers: GuideLayers, ground: Color) -> NDArray[np.uint8]:
    """Markers and numbers over their halo as one see-through layer."""
    over = layers.signs.astype(np.float64)[..., None] / 255
    under = _faint(layers.halo).astype(np.float64)[..., None] / 255 * (1 - over)
    share = over + under
    color = np.divide(
        over * ink_on(ground) + under * ground, share, out=np.zeros((*share.shape[:2], 3)), where=share > 0
    )
    return np.concatenate([color, share * 255], axis=2).round().astype(np.uint8)
