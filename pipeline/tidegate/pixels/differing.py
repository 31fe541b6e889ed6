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
