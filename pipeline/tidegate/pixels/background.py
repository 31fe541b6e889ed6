"""The colour that a map shows where nothing was painted: the most common one far from every island."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from .border_bands import FAR, INSIDE, SHARED, BorderBands
from .carried import explained
from .differing import differing
from .samples import Image, as_channels, most_common

LEAST_SHARE = 0.2  # of the far texels; a colour less common than that is part of a painting, not a ground
LEAST_TEXELS = 64
CERTAIN_CARRIED, MOST_CARRIED = (
    0.25,
    0.5,
)  # share of far texels whose nearest edge shows the same colour, see carried.py
# Where no paint has the ground's color, bare edges are told from a plain coat by what lies beside paint: common practice.
ENDS_ON_GROUND = 0.75  # share of the far texels beside paint that must show the ground
MAY_END_ON_GROUND = 0.3  # the same for a ground that may be one, of which nothing can be told
LEAST_BY_PAINT = 8  # such texels that must have been looked at
BARE_EDGE = 0.98  # share of an island's edge that shows the ground where nothing of the island was painted
LEAST_PAINTED = 0.25  # share of the islands' texels that must lie on islands with paint at their edge
MOST_SHOWN = 0.25  # share of the islands' texels that may show the ground where islands are painted in part
PLAIN_GROUND, MOST_PLAIN_CARRIED = 0.9, 0.9  # a ground this even is taken for one unless nearly all edges show it too
_LOOKED_AT = 1 << 16


@dataclass(frozen=True, slots=True)
class Background:
    """color: one code a channel. share: of the far texels that show it within `tolerance`. far_texels: how many there are.

    beyond: texels are taken as far when they lie further than this from every island; less than the depth of the bands
    only where the islands leave no room. carried: share of the far texels that show it and whose nearest edge texel of an
    island shows it as well: all of them where paint is carried over the whole tile, hardly any where the ground is left bare.
    beside: share that shows it of the far texels whose nearest paint does not, 0 where paint may have its colour. shown: share of
    the islands' texels that show it. bare: paint ends on it, so edges that show it are bare.
    """

    color: tuple[int, ...]
    tolerance: int
    share: float
    far_texels: int
    beyond: int
    carried: float
    beside: float = 0.0
    shown: float = 0.0
    bare: bool = False

    @property
    def few_edges(self) -> bool:
        """Whether few edges show the colour: then it is no colour of the painting, as 0 may be in a metalness map."""
        return self.carried <= CERTAIN_CARRIED

    @property
    def certain(self) -> bool:
        """Few edges show the colour, or those that do are bare. Otherwise it may be a colour of the painting: whatever follows
        from this ground (short bleed, unpainted texels) is then a suspicion.
        """
        return self.bare or self.few_edges


def background(
    image: Image, bands: BorderBands, tolerance: int = 0, least_share: float = LEAST_SHARE, no_paint: bool = False
) -> Background | None:
    """The background of a map under a layout, or None: no texel is far from the islands, no colour prevails there, or the one
    that does is paint carried outwards from the islands.

    tolerance: codes by which a texel may miss the colour and still show it; 0 for lossless maps.
    no_paint: the slot is one where paint hardly ever has the ground's own color, as 0 in metalness or a level normal has.
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
    bare_edge = ~differing(image.reshape(-1, image.shape[2])[bands.edge][None], color, tolerance)[0]
    of_island = np.bincount(bands.edge_owner, minlength=bands.islands)
    showing = np.bincount(bands.edge_owner[bare_edge], minlength=bands.islands)
    unpainted = (of_island > 0) & (showing >= BARE_EDGE * of_island)
    by = explained(image, bands, place, unpainted, color, tolerance)
    shown = _shown_inside(image, bands, color, tolerance)
    by_paint = by.beside if no_paint and by.by_paint >= LEAST_BY_PAINT else 0.0
    inside = bands.totals[:, 0]
    whole = by.painted <= CERTAIN_CARRIED and inside[~unpainted].sum() >= LEAST_PAINTED * inside.sum()
    bare = by_paint >= ENDS_ON_GROUND and bool(whole or shown <= MOST_SHOWN)
    plain = share >= PLAIN_GROUND and by.carried <= MOST_PLAIN_CARRIED
    if not (by_paint >= MAY_END_ON_GROUND or plain or by.carried <= MOST_CARRIED):
        return None
    return Background(color, tolerance, share, count, beyond, by.carried, by_paint, shown, bare)


def _shown_inside(image: Image, bands: BorderBands, color: tuple[int, ...], tolerance: int) -> float:
    """Share of the islands' texels that show the colour, over some at even steps."""
    place = np.flatnonzero(bands.band.reshape(-1)[:: max(1, bands.band.size // _LOOKED_AT) | 1] == INSIDE)
    if not len(place):
        return 0.0
    texels = image.reshape(-1, image.shape[2])[place * (max(1, bands.band.size // _LOOKED_AT) | 1)]
    return 1.0 - float(np.count_nonzero(differing(texels[None], color, tolerance))) / len(place)


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
