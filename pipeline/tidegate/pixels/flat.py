"""Maps that look as if nobody had saved into them: fully black, white, transparent, or one flat colour."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from .differing import differing
from .samples import Image, as_channels, evenly_spread, most_common, white
from .strips import strips


@dataclass(frozen=True, slots=True)
class Flatness:
    """low, high: extreme codes of each channel, alpha among them. common: most common colour; common_share: how common, both
    in a sample.

    looks_unsaved: "" or "fully transparent", "fully black", "fully white", "one flat colour", decided on all texels.
    """

    low: tuple[int, ...]
    high: tuple[int, ...]
    common: tuple[int, ...]
    common_share: float
    looks_unsaved: str


def flatness(image: Image, alpha: bool, flat_share: float = 1.0) -> Flatness:
    """What the extremes say.

    alpha: the last channel is alpha. flat_share: share of texels of one colour from which the map counts as one flat colour;
    1.0 means every texel, which the extremes tell. The common colour is found in a sample of 65,536 texels; for a lower share
    it is counted in the whole map.
    """
    image = as_channels(image)
    low, high = extremes(image)
    common, share = most_common(evenly_spread(image, 1 << 16))
    if low != high and flat_share < 1.0:
        share = 1.0 - float(np.count_nonzero(differing(image, common))) / (image.shape[0] * image.shape[1])
    flat = low == high or (flat_share < 1.0 and share >= flat_share)
    return Flatness(low, high, common, share, _unsaved(low, high, flat, alpha, white(image)))


def extremes(image: Image) -> tuple[tuple[int, ...], tuple[int, ...]]:
    """Lowest and highest code of each channel."""
    image = as_channels(image)
    height, width, channels = image.shape
    if not height or not width:
        raise ValueError("the map has no texels")
    rows = image.reshape(height, width * channels)
    low, high = rows[0].copy(), rows[0].copy()
    for top, bottom in strips(height, width):
        np.minimum(low, rows[top:bottom].min(axis=0), out=low)
        np.maximum(high, rows[top:bottom].max(axis=0), out=high)
    return (
        tuple(low.reshape(width, channels).min(axis=0).tolist()),
        tuple(high.reshape(width, channels).max(axis=0).tolist()),
    )


def _unsaved(low: tuple[int, ...], high: tuple[int, ...], flat: bool, alpha: bool, top: int) -> str:
    color_low, color_high = (low[:-1], high[:-1]) if alpha else (low, high)
    if alpha and high[-1] == 0:
        return "fully transparent"
    if color_high and max(color_high) == 0:
        return "fully black"
    if color_low and min(color_low) == top:
        return "fully white"
    if color_low == color_high or flat:
        return "one flat colour"
    return ""
