"""Lines of the guide sheet that are still in a map: thin lines along the layout's own wire, and none beside it.

At points along the wire the map is read on the line and a little to both sides of it. Where a channel is
darker or lighter there than on both sides, a thin line runs. Paint has thin lines too, so the wire moved aside is read as well.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

import numpy as np
from numpy.typing import NDArray

from .resample import at_points
from .samples import Image, as_channels

BESIDE = 3.0  # texels from the line at which its surroundings are read: a line up to four texels wide is seen
ASIDE = (-11.0, -8.0, -5.0, 5.0, 8.0, 11.0)  # texels by which the wire is moved for comparison
LEAST = 4 / 255  # of full scale, by which a line differs from both sides; less is noise and lossy packing
MOST_POINTS = 5_000  # far apart, so that the share is off by less than a percent; each is read at thirteen places


@dataclass(frozen=True, slots=True)
class GuideTrace:
    """points: read on the wire. on: share of them where a thin line runs, all darker or all lighter than what lies beside.
    aside: the same share along the wire moved aside, mean of the two positions that show most, so that paint with lines at even
    distances counts. darker: whether the lines are."""

    points: int
    on: float
    aside: float
    darker: bool


def guide_trace(image: Image, point: NDArray[np.float64], across: NDArray[np.float64]) -> GuideTrace:
    """Lines through given points.

    point: (n, 2) texels from the upper left corner, on the layout's wire. across: (n, 2) unit vectors at right angles to the
    wire there. At most MOST_POINTS are read, at even steps. Told of the color channel that shows most.
    """
    image = as_channels(image)
    step = -(-len(point) // MOST_POINTS) or 1
    point, across = point[::step], across[::step]
    if not len(point):
        return GuideTrace(0, 0.0, 0.0, False)

    colors = 1 if image.shape[2] < 3 else 3
    read = cache(lambda by: _read(image, point + across * by, colors))  # what lies beside one wire lies on another

    def shares(moved: float) -> NDArray[np.float64]:
        """(2, C): darker and lighter than both sides."""
        middle, one, other = (read(moved + by) for by in (0.0, BESIDE, -BESIDE))
        low, high = np.minimum(one, other), np.maximum(one, other)
        return np.stack([(middle <= low - LEAST).mean(axis=0), (middle >= high + LEAST).mean(axis=0)])

    on = shares(0.0)
    aside = np.sort([shares(by) for by in ASIDE], axis=0)[-2:].mean(axis=0)
    best = np.unravel_index(int(np.argmax(np.round(on - aside, 9))), on.shape)
    return GuideTrace(len(point), float(on[best]), float(aside[best]), bool(best[0] == 0))


def _read(image: Image, place: NDArray[np.float64], colors: int) -> NDArray[np.float64]:
    return at_points(image, place[:, 0], place[:, 1])[:, :colors]
