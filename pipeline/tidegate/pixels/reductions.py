"""The ways in which a picture is made smaller: which one a stranger used is not written anywhere, so each is tried."""

from __future__ import annotations

from collections.abc import Callable
from functools import cache
from typing import Any

import numpy as np
from numpy.typing import NDArray

from .color_space import decode_table, encode
from .resample import reduced
from .samples import Image, as_channels, white
from .strips import strips

Reduction = Callable[[Image, int, int], Image]

_LIGHT = 65535  # codes of linear light while means are taken


def softly(image: Image, height: int, width: int) -> Image:
    """By the triangle filter whose foot is a texel of the small picture to each side: what `linear` with antialiasing does."""
    image = as_channels(image)
    out = np.empty((height, width, image.shape[2]), image.dtype)
    rows, row_weights = _triangle(image.shape[0], height)
    columns, column_weights = _triangle(image.shape[1], width)
    for top, bottom in strips(height, image.shape[1]):
        down = sum(
            image[rows[top:bottom, tap]] * row_weights[top:bottom, tap, None, None] for tap in range(rows.shape[1])
        )
        across = sum(down[:, columns[:, tap]] * column_weights[:, tap, None] for tap in range(columns.shape[1]))
        out[top:bottom] = np.rint(across)
    return out


def in_light(image: Image, height: int, width: int) -> Image:
    """Means of linear light, as for a picture stored by the sRGB curve; alpha has no curve."""
    image = as_channels(image)
    if image.shape[0] % height:
        return _light_means(image, height, width)
    out = np.empty((height, width, image.shape[2]), image.dtype)
    rows = image.shape[0] // height
    for top, bottom in strips(height, image.shape[1] * rows):
        out[top:bottom] = _light_means(image[top * rows : bottom * rows], bottom - top, width)
    return out


def _light_means(image: Image, height: int, width: int) -> Image:
    to_light, from_light = _curves(white(image))
    light = to_light[image]
    alpha = slice(-1, None) if image.shape[2] in (2, 4) else slice(0, 0)
    step = _LIGHT // white(image)
    light[:, :, alpha] = image[:, :, alpha] * np.uint16(step)
    means = reduced(light, height, width)
    out = from_light[means]
    out[:, :, alpha] = (means[:, :, alpha].astype(np.uint32) + step // 2) // step
    return out


@cache
def _curves(top: int) -> tuple[NDArray[np.uint16], NDArray[Any]]:
    """Codes up to `top` to linear light in _LIGHT codes, and back."""
    to_light = np.rint(decode_table(top + 1) * _LIGHT).astype(np.uint16)
    return to_light, np.rint(encode(np.arange(_LIGHT + 1) / _LIGHT) * top).astype(np.min_scalar_type(top))


def picked(image: Image, height: int, width: int) -> Image:
    """The texel at the middle of each new one, of two the later."""
    return _taken(image, height, width, 0.5)


def picked_first(image: Image, height: int, width: int) -> Image:
    """The upper left texel under each new one."""
    return _taken(image, height, width, 0.0)


REDUCTIONS: tuple[Reduction, ...] = (reduced, softly, in_light, picked, picked_first)


def _taken(image: Image, height: int, width: int, where: float) -> Image:
    image = as_channels(image)
    y, x = (
        np.floor((np.arange(small) + where) * (large / small)).astype(np.int64)
        for small, large in ((height, image.shape[0]), (width, image.shape[1]))
    )
    return np.ascontiguousarray(image[y[:, None], x[None, :]])


def _triangle(large: int, small: int) -> tuple[NDArray[np.int64], NDArray[Any]]:
    """For each of `small` texels the texels of `large` that count, (small, taps), and their weights, 1 together."""
    step = large / small
    middle = (np.arange(small) + 0.5) * step
    first = np.floor(middle - step).astype(np.int64)
    taps = first[:, None] + np.arange(int(np.ceil(2 * step)) + 1)
    weights = np.maximum(1 - np.abs(taps + 0.5 - middle[:, None]) / step, 0)
    weights[(taps < 0) | (taps >= large)] = 0
    weights /= weights.sum(axis=1, keepdims=True)
    return np.clip(taps, 0, large - 1), weights.astype(np.float32)
