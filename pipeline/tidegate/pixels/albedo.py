"""Base color darker or brighter than a real surface would be."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from .color_space import LUMINANCE, decode, decode_table
from .samples import Image, as_channels, white
from .strips import strips

DARKEST, BRIGHTEST = 30, 240  # sRGB codes of 8 bits; common practice, no source

_PARTS = (1 << 24) - 1  # luminance is compared in these parts of white, whole numbers


@dataclass(frozen=True, slots=True)
class AlbedoRange:
    """Shares of the texels looked at: darker than the darkest, brighter than the brightest believable grey."""

    dark: float
    bright: float
    texels: int


def albedo_range(
    image: Image,
    inside: NDArray[np.bool_] | None = None,
    darkest: float = DARKEST,
    brightest: float = BRIGHTEST,
) -> AlbedoRange:
    """Share of texels whose luminance lies beyond that of two greys, given as sRGB codes of 8 bits.

    image: sRGB color, one channel or at least three. inside: (H, W) texels to look at; the ground between islands is no albedo.
    """
    image = as_channels(image)
    height, width, channels = image.shape
    table = decode_table(white(image) + 1)
    weights = LUMINANCE if channels >= 3 else (1.0,)
    tables = [np.rint(table * weight * _PARTS).astype(np.uint32) for weight in weights]
    low, high = (round(float(decode(code / 255)) * _PARTS) for code in (darkest, brightest))
    # Each table is rounded by itself, so a sum may miss the limit by one part a channel: allow for it on both sides.
    slack = len(tables) // 2
    dark = bright = looked_at = 0
    for top, bottom in strips(height, width):
        luminance = tables[0][image[top:bottom, :, 0]]
        for channel, weighted in enumerate(tables[1:], 1):
            luminance += weighted[image[top:bottom, :, channel]]
        if inside is None:
            looked_at += luminance.size
            dark += int(np.count_nonzero(luminance < low - slack))
            bright += int(np.count_nonzero(luminance > high + slack))
        else:
            where = inside[top:bottom]
            looked_at += int(np.count_nonzero(where))
            dark += int(np.count_nonzero((luminance < max(low - slack, 0)) & where))
            bright += int(np.count_nonzero((luminance > high + slack) & where))
    return AlbedoRange(dark / max(looked_at, 1), bright / max(looked_at, 1), looked_at)
