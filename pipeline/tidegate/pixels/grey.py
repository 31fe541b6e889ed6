"""Colour in data that should be grey, and grey stored as three equal channels."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from .samples import Image, as_channels
from .strips import strips


@dataclass(frozen=True, slots=True)
class Greyness:
    """equal: red, green and blue agree in every texel. colored: share of texels whose channels lie more than the tolerance apart.

    widest: largest distance between two channels of one texel, in codes.
    box: (x0, y0, x1, y1) around all coloured texels, None when there are none.
    """

    equal: bool
    colored: float
    widest: int
    box: tuple[int, int, int, int] | None


def greyness(image: Image, tolerance: int = 0) -> Greyness | None:
    """How grey the first three channels are, None for an image with fewer than three."""
    image = as_channels(image)
    height, width, channels = image.shape
    if channels < 3:
        return None
    colored, widest = 0, 0
    columns = np.zeros(width, bool)
    rows: list[int] = []
    for top, bottom in strips(height, width):
        red, green, blue = (image[top:bottom, :, c] for c in range(3))
        if np.array_equal(red, green) and np.array_equal(green, blue):
            continue
        spread = np.maximum(np.maximum(red, green), blue) - np.minimum(np.minimum(red, green), blue)
        widest = max(widest, int(spread.max()))
        beyond = spread > tolerance
        count = int(np.count_nonzero(beyond))
        if count:
            colored += count
            columns |= beyond.any(axis=0)
            rows.extend((np.flatnonzero(beyond.any(axis=1)) + top).tolist())
    box = None
    if rows:
        across = np.flatnonzero(columns)
        box = (int(across[0]), rows[0], int(across[-1]) + 1, rows[-1] + 1)
    return Greyness(widest == 0, colored / (height * width), widest, box)
