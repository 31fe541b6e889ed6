"""Base color darker or brighter than a real surface would be."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from .color_space import LUMINANCE, decode, decode_table
from .samples import Image, as_channels, white
from .strips import strips

DARKEST, BRIGHTEST = 30, 240  # sRGB codes of 8 bits; common practice, no source

_PARTS = (1 << 24) - 1  # luminance is compared in these parts of white, whole numbers


@dataclass(frozen=True, slots=True)
class AlbedoRange:
    """Shares of the texels looked at: darker than the darkest, brighter than the brightest believable grey, which are codes."""

    darkest: float
    brightest: float
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
    doubtful = _doubtful(tables, low, high) if channels >= 3 else None
    for top, bottom in strips(height, width):
        where = None if inside is None else inside[top:bottom]
        looked_at += (bottom - top) * width if where is None else int(np.count_nonzero(where))
        if doubtful is not None:
            # Most texels are neither, and green alone says so.
            first, span = doubtful
            found = (image[top:bottom, :, 1] - first) >= span
            where = found if where is None else found & where
        luminance: Any = 0
        for channel, weighted in enumerate(tables):
            part = image[top:bottom, :, channel]
            luminance = luminance + weighted[part.reshape(-1) if where is None else part[where]]
        dark += int(np.count_nonzero(luminance < max(low - slack, 0)))
        bright += int(np.count_nonzero(luminance > high + slack))
    return AlbedoRange(darkest, brightest, dark / max(looked_at, 1), bright / max(looked_at, 1), looked_at)


def _doubtful(tables: list[NDArray[np.uint32]], low: int, high: int) -> tuple[Any, Any]:
    """(first, span): of texels whose green less `first`, wrapped, is below `span`, none is dark or bright, whatever red and
    blue are: green alone lifts them over the dark grey, and red and blue at full do not lift them over the bright one.
    """
    others = int(tables[0][-1]) + int(tables[2][-1])
    plain = np.flatnonzero((tables[1].astype(np.int64) > low) & (tables[1].astype(np.int64) + others < high))
    kind = np.uint8 if len(tables[1]) == 256 else np.uint16
    return (kind(plain[0]), kind(len(plain))) if len(plain) else (kind(0), kind(0))
