"""Colors of the pictures. Marks take theirs from a set that people with any kind of color vision can tell apart.

M. Okabe, K. Ito, "Color Universal Design: How to make figures and presentations that are friendly to colorblind people",
J*FLY, 2002 (revised 2008). Its yellow is left out: too faint on a light ground.
"""

from __future__ import annotations

Color = tuple[int, int, int]

VERMILION: Color = (213, 94, 0)
BLUE: Color = (0, 114, 178)
GREEN: Color = (0, 158, 115)
PURPLE: Color = (204, 121, 167)
ORANGE: Color = (230, 159, 0)
SKY: Color = (86, 180, 233)
BLACK: Color = (0, 0, 0)
MARKS: tuple[Color, ...] = (VERMILION, BLUE, PURPLE, GREEN, BLACK, ORANGE, SKY)

PAPER: Color = (255, 255, 255)
OUTSIDE: Color = (243, 243, 240)  # beside the tile
ISLAND: Color = (218, 218, 214)
INNER_EDGE: Color = (196, 196, 191)
OUTLINE: Color = (128, 128, 122)
TILE_EDGE: Color = (70, 70, 66)
INK: Color = (24, 24, 22)
FAINT_INK: Color = (96, 96, 90)


def ink_on(ground: Color) -> Color:
    """Dark or light ink, whichever stands out more on a ground.

    By the contrast of W3C, "Web Content Accessibility Guidelines 2.1": (lighter + 0.05) / (darker + 0.05) of relative
    luminances.
    """
    under = _luminance(ground) + 0.05
    dark, light = under / (_luminance(INK) + 0.05), (_luminance(PAPER) + 0.05) / under
    return INK if dark >= light else PAPER


def _luminance(color: Color) -> float:
    """Relative luminance, 0 black to 1 white."""
    linear = [c / 255 / 12.92 if c / 255 <= 0.04045 else ((c / 255 + 0.055) / 1.055) ** 2.4 for c in color]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]
