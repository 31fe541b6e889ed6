"""Bleed around the border of a map that is repeated: what lies beyond one end of it is its other end."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from .bleed import Bleed, bleed
from .border_bands import Labels, border_bands


def bleed_around(
    painted: NDArray[np.bool_] | None, labels: Labels, islands: int, wanted: int, across: bool, up: bool
) -> Bleed | None:
    """Bleed of the islands as `bleed` gives it, with the borders at which the map is repeated moved into its middle, so that
    depths hold there; places are those of the map as it is. None where no island lies within `wanted` texels of such a border.

    across, up: whether the map is repeated in each direction. Near the middle lines of the map itself the depths are too large.
    """
    if painted is None or not ((up and _near(labels, wanted)) or (across and _near(labels.T, wanted))):
        return None
    height, width = labels.shape
    moved = (height // 2 if up else 0, width // 2 if across else 0)
    found = bleed(
        np.roll(painted, moved, (0, 1)), border_bands(np.roll(labels, moved, (0, 1)), islands, wanted), wanted
    )
    at = (found.run_at - moved[::-1]) % (width, height)
    box = found.run_box - np.tile(moved[::-1], 2)
    low, high = box[:, :2] % (width, height), box[:, :2] % (width, height) + (box[:, 2:] - box[:, :2])
    # A place on both sides of the border is shown on the side where to look first.
    size = np.array([width, height])
    beyond = at < low
    high = np.where(beyond, high - size, np.minimum(high, size))
    low = np.where(beyond, 0, low)
    shown = found.run[:, None] > 0
    return replace(
        found, run_at=np.where(shown, at, 0), run_box=np.where(shown, np.concatenate([low, high], axis=1), 0)
    )


def _near(labels: Labels, reach: int) -> bool:
    """Whether an island lies within so many rows of the upper or lower end."""
    return bool((labels[:reach] >= 0).any() or (labels[-reach:] >= 0).any())
