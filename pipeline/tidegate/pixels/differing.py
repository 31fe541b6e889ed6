"""Which texels differ from one colour."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from .samples import Image, as_channels, white
from .strips import strips


def differing(image: Image, color: Sequence[int], tolerance: int = 0) -> NDArray[np.bool_]:
    """(H, W) True where any channel is more than `tolerance` codes from `color`, alpha counted like the rest."""
    image = as_channels(image)
    if len(color) != image.shape[2]:
        raise ValueError(f"the colour has {len(color)} channels, the image {image.shape[2]}")
    top_code = white(image)
    out = np.empty(image.shape[:2], bool)
    if tolerance == 0 and image.dtype == np.uint8 and image.shape[2] >= 3 and image.flags.c_contiguous and image.size:
        _whole_texels(image, color, out.reshape(-1))
        return out
    for top, bottom in strips(*image.shape[:2]):
        rows = out[top:bottom]
        rows[:] = False
        for channel, code in enumerate(color):
            part = image[top:bottom, :, channel]
            low, high = max(code - tolerance, 0), min(code + tolerance, top_code)
            if low == high:
                rows |= part != image.dtype.type(low)
            else:  # unsigned arithmetic wraps codes below `low` to the top, so one comparison sees both sides
                rows |= (part - image.dtype.type(low)) > image.dtype.type(high - low)
    return out


def _whole_texels(image: Image, color: Sequence[int], out: NDArray[np.bool_]) -> None:
    """Three or four channels of 8 bits, compared as one number a texel, read at every third or fourth byte."""
    channels = image.shape[2]
    code = np.uint32(sum(int(value) << 8 * channel for channel, value in enumerate(color)))
    mask = np.uint32((1 << 8 * channels) - 1)
    count = len(out) - (4 - channels)  # a number read at the last texel of three bytes would end outside
    texels: NDArray[np.uint32] = np.ndarray((count,), "<u4", image.data, strides=(channels,))
    for start, stop in strips(count, 1):
        np.not_equal(texels[start:stop] & mask, code, out=out[start:stop])
    if channels == 3:
        out[-1] = bool((image[-1, -1] != np.array(color, np.uint8)).any())
