"""Whether a colour far from the islands came from them: paint carried over the whole tile, no unpainted ground."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from .border_bands import INSIDE, BorderBands
from .differing import differing
from .samples import Image, as_channels

_PAIRS = 1 << 23  # of places with edge texels whose distance is computed
_LEAST, _MOST = 16, 256  # places looked at
_DEEPER = 2  # texels inside the edge where the colour has to show as well


def carried_share(
    image: Image, bands: BorderBands, places: NDArray[np.int64], color: Sequence[int], tolerance: int = 0
) -> float:
    """Share of `places`, texels outside the islands that show the colour, whose nearest island edge shows it as well.

    About 1 where each island's paint is carried outwards without end, about 0 where a bare ground lies round painted islands.
    places: flat indices; 16 to 256 of them at even steps are looked at, each against every edge texel. 0 without edges or places.
    """
    if not len(bands.edge) or not len(places):
        return 0.0
    edge = bands.edge[_nearest_edges(bands, _some(bands, places))]
    return float(np.mean(_shows(as_channels(image), edge, color, tolerance)))


@dataclass(frozen=True, slots=True)
class Explained:
    """How far the island edges explain a colour far from them.

    carried: share of the places looked at that show the colour whose nearest edge shows it too. painted: the same without the
    islands that show it all along their edge. The rest holds the islands two texels inside their edge against it, so that paint
    one texel short counts as paint: beside: share that shows the colour of the places whose nearest paint does not, 1 where
    paint ends on a ground, 0 where it is carried on; by_paint: how many those are.
    """

    carried: float
    painted: float
    beside: float
    by_paint: int


def explained(
    image: Image,
    bands: BorderBands,
    places: NDArray[np.int64],
    bare: NDArray[np.bool_],
    color: Sequence[int],
    tolerance: int = 0,
) -> Explained:
    """Looks at some of `places`, flat indices of texels outside the islands, as `carried_share` does.

    bare: one an island, True where it shows the colour all along its edge.
    """
    if not len(bands.edge) or not len(places):
        return Explained(0.0, 0.0, 0.0, 0)
    image, some = as_channels(image), _some(bands, places)
    nearest = _nearest_edges(bands, some)
    edge = bands.edge[nearest]
    here = _shows(image, some, color, tolerance)
    there = _shows(image, edge, color, tolerance)
    deep = there & _shows(image, _deeper(bands, some, edge), color, tolerance)
    of_painted = here & ~bare[bands.edge_owner[nearest]]
    return Explained(
        float(there[here].mean()) if here.any() else 0.0,
        float(there[of_painted].mean()) if of_painted.any() else 0.0,
        float(here[~deep].mean()) if not deep.all() else 0.0,
        int(np.count_nonzero(~deep)),
    )


def _some(bands: BorderBands, places: NDArray[np.int64]) -> NDArray[np.int64]:
    wanted = min(max(_PAIRS // len(bands.edge), _LEAST), _MOST, len(places))
    return places[np.linspace(0, len(places) - 1, wanted).astype(np.int64)]


def _nearest_edges(bands: BorderBands, places: NDArray[np.int64]) -> NDArray[np.int64]:
    """For each place the index into `bands.edge` of the nearest one."""
    width = bands.band.shape[1]
    edge_y, edge_x = (part.astype(np.int32) for part in np.divmod(bands.edge, width))
    nearest = np.empty(len(places), np.int64)
    for at, place in enumerate(places.tolist()):
        y, x = divmod(place, width)
        nearest[at] = np.argmin((edge_x - np.int32(x)) ** 2 + (edge_y - np.int32(y)) ** 2)
    return nearest


def _deeper(bands: BorderBands, places: NDArray[np.int64], edge: NDArray[np.int64]) -> NDArray[np.int64]:
    """Texels inside the island, straight on from each place over its edge; the edge itself where the island ends before."""
    height, width = bands.band.shape
    (y, x), (edge_y, edge_x) = np.divmod(places, width), np.divmod(edge, width)
    away = np.maximum(np.hypot(edge_y - y, edge_x - x), 1)
    to_y = edge_y + np.rint(_DEEPER * (edge_y - y) / away).astype(np.int64)
    to_x = edge_x + np.rint(_DEEPER * (edge_x - x) / away).astype(np.int64)
    within = (to_y >= 0) & (to_y < height) & (to_x >= 0) & (to_x < width)
    deeper = np.where(within, to_y * width + to_x, edge)
    return np.where(bands.band.reshape(-1)[deeper] == INSIDE, deeper, edge)


def _shows(image: Image, places: NDArray[np.int64], color: Sequence[int], tolerance: int) -> NDArray[np.bool_]:
    """Whether the texels at flat places of an (H, W, C) image show the colour."""
    return np.asarray(~differing(image.reshape(-1, image.shape[2])[places][None], color, tolerance)[0])


def edge_share(image: Image, bands: BorderBands, color: Sequence[int], tolerance: int = 0) -> float:
    """Share of up to 65,536 edge texels of all islands, at even steps, that show the colour. 0 without edges."""
    if not len(bands.edge):
        return 0.0
    image = as_channels(image)
    edge = bands.edge[:: max(1, len(bands.edge) >> 16) | 1]
    return 1.0 - float(
        np.count_nonzero(differing(image.reshape(-1, image.shape[2])[edge][None], color, tolerance))
    ) / len(edge)
