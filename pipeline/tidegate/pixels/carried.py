"""Whether a colour far from the islands came from them: paint carried over the whole tile, no unpainted ground."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from .border_bands import BorderBands
from .differing import differing
from .samples import Image, as_channels

_PAIRS = 1 << 23  # of places with edge texels whose distance is computed
_LEAST, _MOST = 16, 256  # places looked at


def carried_share(
    image: Image, bands: BorderBands, places: NDArray[np.int64], color: Sequence[int], tolerance: int = 0
) -> float:
    """Share of `places`, texels outside the islands that show the colour, whose nearest island edge shows it as well.

    About 1 where each island's paint is carried outwards without end, about 0 where a bare ground lies round painted islands.
    places: flat indices; 16 to 256 of them at even steps are looked at, each against every edge texel. 0 without edges or places.
    """
    if not len(bands.edge) or not len(places):
        return 0.0
    image = as_channels(image)
    width = bands.band.shape[1]
    wanted = min(max(_PAIRS // len(bands.edge), _LEAST), _MOST, len(places))
    some = places[np.linspace(0, len(places) - 1, wanted).astype(np.int64)]
    edge_y, edge_x = (part.astype(np.int32) for part in np.divmod(bands.edge, width))
    nearest = np.empty(len(some), np.int64)
    for at, place in enumerate(some.tolist()):
        y, x = divmod(place, width)
        nearest[at] = bands.edge[np.argmin((edge_x - np.int32(x)) ** 2 + (edge_y - np.int32(y)) ** 2)]
    texels = image.reshape(-1, image.shape[2])[nearest]
    return 1.0 - float(np.count_nonzero(differing(texels[None], color, tolerance))) / len(some)


def edge_share(image: Image, bands: BorderBands, color: Sequence[int], tolerance: int = 0) -> float:
    """Share of up to 65,536 edge texels of all islands, at even steps, that show the colour. 0 without edges."""
    if not len(bands.edge):
        return 0.0
    image = as_channels(image)
    edge = bands.edge[:: max(1, len(bands.edge) >> 16) | 1]
    return 1.0 - float(
        np.count_nonzero(differing(image.reshape(-1, image.shape[2])[edge][None], color, tolerance))
    ) / len(edge)
