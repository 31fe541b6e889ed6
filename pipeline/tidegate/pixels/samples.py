"""What an image array is here, and the small helpers that every detector shares.

An image is (H, W) or (H, W, C) of uint8 or uint16, row 0 at the top, C 1 to 4, alpha last where there is one.
"""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

Image = NDArray[Any]


def as_channels(image: Image) -> Image:
    """The image as (H, W, C), without copying. ValueError for another shape or another kind of number."""
    if image.ndim == 2:
        image = image[:, :, None]
    if image.ndim != 3 or not 1 <= image.shape[2] <= 4:
        raise ValueError(f"an image is (H, W) or (H, W, 1..4), came {image.shape}")
    if image.dtype not in (np.uint8, np.uint16):
        raise ValueError(f"an image holds uint8 or uint16, came {image.dtype}")
    return image


def white(image: Image) -> int:
    """The code that stands for one: 255 or 65535."""
    return int(np.iinfo(image.dtype).max)


def evenly_spread(image: Image, wanted: int) -> Image:
    """About `wanted` texels, (n, C), by a fixed step that does not fall in line with rows or powers of two."""
    texels = as_channels(image).reshape(-1, as_channels(image).shape[2])
    step = max(1, len(texels) // max(1, wanted)) | 1
    return texels[::step]


def packed(texels: Image) -> NDArray[np.uint64]:
    """(n, C) texels as one number each, so that colours can be counted and compared."""
    out = np.zeros(len(texels), np.uint64)
    for channel in range(texels.shape[1]):
        out = out << np.uint64(16) | texels[:, channel].astype(np.uint64)
    return out


def most_common(texels: Image) -> tuple[tuple[int, ...], float]:
    """The most common colour of (n, C) texels, n > 0, and its share. Of equally common ones the darkest."""
    codes, counts = np.unique(packed(texels), return_counts=True)
    best = int(np.argmax(counts))
    code = int(codes[best])
    channels = texels.shape[1]
    color = tuple(code >> 16 * (channels - 1 - i) & 0xFFFF for i in range(channels))
    return color, float(counts[best]) / len(texels)
