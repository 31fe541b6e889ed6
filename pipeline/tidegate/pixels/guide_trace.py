"""Evidence that lines of the guide sheet are still in a map: contrast along the inner wire, beside the same wire moved aside.

Evidence, never a verdict: a painted seam or a panel line may lie on an edge of the mesh by right.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from .color_space import LUMINANCE
from .resample import at_points
from .samples import Image, as_channels

BESIDE = 2.0  # texels from the line at which its surroundings are read
ASIDE = (-11.0, -8.0, -5.0, 5.0, 8.0, 11.0)  # texels by which the wire is moved for comparison
_FLOOR = 0.5 / 255  # scatter below half a code is rounding


@dataclass(frozen=True, slots=True, eq=False)
class GuideTrace:
    """One row an island. points: read on its wire.

    contrast: mean luma on the wire less that beside it, -1 .. 1; negative where a dark line runs. aside: the same for the wire
    moved aside, mean over the positions; scatter: their standard deviation. strength: how many scatters the wire stands out.
    """

    points: NDArray[np.int64]
    contrast: NDArray[np.float64]
    aside: NDArray[np.float64]
    scatter: NDArray[np.float64]
    strength: NDArray[np.float64]


def guide_trace(
    image: Image, point: NDArray[np.float64], across: NDArray[np.float64], island: NDArray[np.int32], islands: int
) -> GuideTrace:
    """Contrast of lines through given points.

    point: (n, 2) texels from the upper left corner, on inner edges of the layout. across: (n, 2) unit vectors at right angles
    to the edge. island: (n,) numbers below `islands`. Luma is the weighted sum of the stored values.
    """
    image = as_channels(image)
    count = np.bincount(island, minlength=islands)

    def line(moved: float) -> NDArray[np.float64]:
        middle, one, other = (_luma(image, point + across * (moved + step)) for step in (0.0, BESIDE, -BESIDE))
        contrast = middle - (one + other) / 2
        return np.asarray(np.bincount(island, weights=contrast, minlength=islands) / np.maximum(count, 1))

    contrast = line(0.0)
    moved = np.stack([line(step) for step in ASIDE])
    aside, scatter = moved.mean(axis=0), moved.std(axis=0)
    strength = np.abs(contrast - aside) / np.maximum(scatter, _FLOOR)
    return GuideTrace(count, contrast, aside, scatter, np.where(count > 0, strength, 0.0))


def _luma(image: Image, place: NDArray[np.float64]) -> NDArray[np.float64]:
    values = at_points(image, place[:, 0], place[:, 1])
    if image.shape[2] < 3:
        return values[:, 0]
    return np.asarray(values[:, :3] @ np.array(LUMINANCE))
