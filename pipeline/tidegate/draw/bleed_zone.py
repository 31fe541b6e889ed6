"""The texels that paint must be carried into: those within some texels of an island and outside all of them."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray


def bleed_zone(
    inside: NDArray[np.bool_], texels: int, repeating: tuple[bool, bool] = (False, False)
) -> NDArray[np.bool_]:
    """Texels outside whose centre is at most `texels` from the centre of one inside, by exact distance. repeating: whether
    that is measured around the borders, across and up: a map that repeats is read on at its other end."""
    if any(repeating) and texels > 0:
        rows, columns = (texels if up else 0 for up in (repeating[1], repeating[0]))
        around = np.pad(inside, ((rows, rows), (columns, columns)), mode="wrap")
        height, width = inside.shape
        return bleed_zone(around, texels)[rows : rows + height, columns : columns + width]
    height = len(inside)
    if texels <= 0 or not inside.any():
        return np.zeros_like(inside)
    limit = min(texels, 30_000)
    across = _across(inside, limit)
    near = np.zeros_like(inside)
    for down in range(min(limit, height - 1) + 1):
        reach = math.isqrt(limit * limit - down * down)
        within = across <= reach
        near[down:] |= within[: height - down]
        near[: height - down] |= within[down:]
    return near & ~inside


def _across(inside: NDArray[np.bool_], limit: int) -> NDArray[np.int16]:
    """Texels to the nearest texel inside in the same row, at most limit + 1."""
    width = inside.shape[1]
    far = limit + 1
    column = np.arange(width, dtype=np.int32)
    before = np.maximum.accumulate(np.where(inside, column, -far), axis=1)
    after = np.minimum.accumulate(np.where(inside, column, width + far)[:, ::-1], axis=1)[:, ::-1]
    return np.minimum(np.minimum(column - before, after - column), far).astype(np.int16)
