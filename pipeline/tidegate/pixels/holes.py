"""What lies in and beside a place that shows the ground: a hole ends at once and is of the ground's own color."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from .background import Background
from .differing import differing
from .samples import Image, as_channels
from .strips import strips
from .unpainted import Unpainted

NEAR = 12  # codes of 8 bits from the ground that paint fading into it stays within beside the place; common practice, no source
AROUND = 3  # texels beside a place that are looked at
OWN = 3  # codes of 8 bits by which a ground that was packed with loss misses its own color away from edges


@dataclass(frozen=True, slots=True, eq=False)
class Holes:
    """One number a place of `Unpainted`.

    fading: share of the island's texels beside it that are near the ground, most of them where paint fades into it.
    own: share of its texels that are the ground's own color, less than 1 only where the map was packed with loss: paint that is
    merely like the ground has next to none.
    """

    fading: NDArray[np.float64]
    own: NDArray[np.float64]


def holes(image: Image, ground: Background, painted: NDArray[np.bool_], labels: NDArray[Any], bare: Unpainted) -> Holes:
    """Looks at every place listed in `bare`, each within its box. painted: (H, W) True where the map differs from the ground."""
    image = as_channels(image)
    scale = 257 if image.dtype == np.uint16 else 1
    fading, own = np.zeros(len(bare.worst_box)), np.ones(len(bare.worst_box))
    for number, (island, box) in enumerate(zip(bare.worst_island.tolist(), bare.worst_box.tolist(), strict=True)):
        beside = near = inside = truly = 0
        x0, y0, x1, y1 = box
        left, right = max(x0 - AROUND, 0), min(x1 + AROUND, labels.shape[1])
        for top, end in strips(y1 - y0 + 2 * AROUND, right - left):
            first, last = max(y0 - AROUND + top, 0), min(y0 - AROUND + end, labels.shape[0])
            if first >= last:
                continue
            high, low = max(first - AROUND, 0), min(last + AROUND, labels.shape[0])  # rows that reach into the strip
            mine = labels[high:low, left:right] == island
            shows = mine & ~painted[high:low, left:right]
            keep = slice(first - high, last - high)
            ring = (_grown(shows)[keep]) & mine[keep] & ~shows[keep]
            part = image[first:last, left:right]
            beside += int(np.count_nonzero(ring))
            near += int(np.count_nonzero(ring & ~differing(part, ground.color, ground.tolerance + NEAR * scale)))
            if ground.tolerance:
                inside += int(np.count_nonzero(shows[keep]))
                truly += int(np.count_nonzero(shows[keep] & ~differing(part, ground.color, OWN * scale)))
        fading[number] = near / max(beside, 1)
        own[number] = truly / max(inside, 1) if ground.tolerance else 1.0
    return Holes(fading, own)


def _grown(mask: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """Texels within AROUND rows or columns of those given, in a straight line."""
    out = mask.copy()
    for step in range(1, AROUND + 1):
        out[step:] |= mask[:-step]
        out[:-step] |= mask[step:]
        out[:, step:] |= mask[:, :-step]
        out[:, :-step] |= mask[:, step:]
    return out
