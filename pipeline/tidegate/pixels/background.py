"""The colour that a map shows where nothing was painted: the most common one far from every island."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from .border_bands import FAR, SHARED, BorderBands
from .carried import carried_share
from .differing import differing
from .samples import Image, as_channels, most_common

LEAST_SHARE = 0.2  # of the far texels; a colour less common than that is part of a painting, not a ground
LEAST_TEXELS = 64
CERTAIN_CARRIED, MOST_CARRIED = (
    0.25,
    0.5,
)  # share of far texels whose nearest edge shows the same colour, see carried.py
PLAIN_GROUND, MOST_PLAIN_CARRIED = 0.9, 0.9  # a ground this even is taken for one unless nearly all edges show it too
_LOOKED_AT = 1 << 16


@dataclass(frozen=True, slots=True)
class Background:
    """color: one code a channel. share: of the far texels that show it within `tolerance`. far_texels: how many there are.

    beyond: texels are taken as far when they lie further than this from every island; less than the depth of the bands
    only where the islands leave no room. carried: share of the far texels that show it and whose nearest edge texel of an
    island shows it as well: all of them where paint is carried over the whole tile, hardly any where the ground is left bare.
    """

    color: tuple[int, ...]
    tolerance: int
    share: float
    far_texels: int
    beyond: int
    carried: float

    @property
    def certain(self) -> bool:
        """Few edges show the colour. Otherwise it may be a colour of the painting, as 0 is in a metalness map: whatever
        follows from this ground (short bleed, unpainted texels) is then a suspicion.
        """
        return self.carried <= CERTAIN_CARRIED


def background(
    image: Image, bands: BorderBands, tolerance: int = 0, least_share: float = LEAST_SHARE
) -> Background | None:
    """The background of a map under a layout, or None: no texel is far from the islands, no colour prevails there, or the one
    that does is paint carried outwards from the islands.

    tolerance: codes by which a texel may miss the colour and still show it; 0 for lossless maps.
    The candidate is the most common colour of up to 65,536 far texels at even steps, its share is counted over that sample.
    """
    image = as_channels(image)
    if image.shape[:2] != bands.band.shape:
        raise ValueError(f"the map is {image.shape[:2]}, the layout {bands.band.shape}")
    place, beyond, count = _far_places(bands)
    if count < LEAST_TEXELS:
        return None
    texels = image.reshape(-1, image.shape[2])[place]
    color, _ = most_common(texels)
    share = 1.0 - float(np.count_nonzero(differing(texels[None], color, tolerance))) / len(texels)
    if share < least_share:
        return None
    shows = place[~differing(texels[None], color, tolerance)[0]]
    found = Background(color, tolerance, share, count, beyond, carried_share(image, bands, shows, color, tolerance))
    plain = share >= PLAIN_GROUND and found.carried <= MOST_PLAIN_CARRIED
    return found if plain or found.carried <= MOST_CARRIED else None


def _far_places(bands: BorderBands) -> tuple[NDArray[np.int64], int, int]:
    """Flat places of a sample of far texels, the distance beyond which they lie, and how many there are in all."""
    wanted = max(LEAST_TEXELS, bands.band.size // 1000)
    counts = np.zeros(256, np.int64)
    flat = bands.band.reshape(-1)
    step = max(1, flat.size // _LOOKED_AT // 4) | 1
    if bands.depth:
        counts[1 : bands.depth + 1] = bands.totals[:, 1:].sum(axis=0)
    counts[FAR] = np.count_nonzero(flat == FAR)
    beyond = bands.depth
    count = int(counts[FAR])
    while count < wanted and beyond > 1:
        count += int(counts[beyond])
        beyond -= 1
    place = np.flatnonzero(_is_far(flat[::step], beyond)) * step
    if len(place) < min(count, _LOOKED_AT // 4):  # few and far between: look at every texel
        place = np.flatnonzero(_is_far(flat, beyond))
    return place[:: max(1, len(place) // _LOOKED_AT) | 1], beyond, count


def _is_far(band: NDArray[np.uint8], beyond: int) -> NDArray[np.bool_]:
    return np.asarray((band > np.uint8(beyond)) & (band != SHARED))
