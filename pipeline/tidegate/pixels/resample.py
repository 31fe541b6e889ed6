"""Bring a map to a smaller size, and read it between texels."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from .samples import Image, as_channels, white


def eight_bit(image: Image) -> NDArray[np.uint8]:
    """The image in 8 bits, rounded to nearest; 8-bit images are returned as they are."""
    if image.dtype == np.uint8:
        return image
    return ((image.astype(np.uint32) + 128) // 257).astype(np.uint8)


def reduced(image: Image, height: int, width: int) -> Image:
    """The image at (height, width), neither larger than its own: box mean by the whole factor, then linear for the rest."""
    image = as_channels(image)
    if height > image.shape[0] or width > image.shape[1] or height < 1 or width < 1:
        raise ValueError(f"cannot reduce {image.shape[:2]} to {(height, width)}")
    down, across = image.shape[0] // height, image.shape[1] // width
    if down > 1 or across > 1:
        image = _box(image, down, across)
    if image.shape[:2] == (height, width):
        return image
    # Texel centres of the wanted size, in texels of this one.
    x = (np.arange(width) + 0.5) * (image.shape[1] / width)
    out = np.empty((height, width, image.shape[2]), image.dtype)
    for row in range(height):
        y = (row + 0.5) * (image.shape[0] / height)
        out[row] = np.rint(at_points(image, x, np.full(width, y), repeat=False) * white(image))
    return out


def _box(image: Image, down: int, across: int) -> Image:
    height, width, channels = image.shape[0] // down, image.shape[1] // across, image.shape[2]
    out = np.empty((height, width, channels), image.dtype)
    part = down * across
    for row in range(height):
        rows = image[row * down : (row + 1) * down, : width * across]
        total = rows.sum(axis=0, dtype=np.uint64).reshape(width, across, channels).sum(axis=1)
        out[row] = (total + np.uint64(part // 2)) // np.uint64(part)
    return out


def at_points(image: Image, x: NDArray[np.float64], y: NDArray[np.float64], repeat: bool = True) -> NDArray[np.float64]:
    """(n, C) values 0 .. 1 at points in texels from the upper left corner, bilinear; a texel's centre is at its number + 1/2.

    repeat: points outside read the map repeated, else its border. Footprint and weights as in Vulkan, Image Operations.
    """
    image = as_channels(image)
    height, width = image.shape[:2]
    left, top = np.floor(x - 0.5), np.floor(y - 0.5)
    fx, fy = (x - 0.5 - left)[:, None], (y - 0.5 - top)[:, None]
    x0, y0 = left.astype(np.int64), top.astype(np.int64)
    x1, y1 = x0 + 1, y0 + 1
    if repeat:
        x0, x1, y0, y1 = x0 % width, x1 % width, y0 % height, y1 % height
    else:
        x0, x1 = np.clip(x0, 0, width - 1), np.clip(x1, 0, width - 1)
        y0, y1 = np.clip(y0, 0, height - 1), np.clip(y1, 0, height - 1)
    upper = image[y0, x0] * (1 - fx) + image[y0, x1] * fx
    lower = image[y1, x0] * (1 - fx) + image[y1, x1] * fx
    return np.asarray((upper * (1 - fy) + lower * fy) / white(image))
