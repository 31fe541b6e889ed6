"""Which tile of the UV plane an island lies in. Tile 0, 0 is the unit square.

Numbers are UDIM: 1001 + U + 10 V with U, V the whole parts of u and v (MaterialX Specification 1.39, "Filename
Substitutions"). u = 1.0 alone would belong to the next tile, so an island is placed by where its surface lies: one that
ends exactly on a border is inside.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

_FARTHEST = 2.0**53
SEEN = 0.01  # texels beyond a border that show: 1 % of a texel moves an 8-bit code by 2 or 3 at most; common practice, no source
_ROUNDING = 2.0**-22  # single-precision UVs computed to end on a border miss it by up to about that much


class IslandTiles(NamedTuple):
    """u, v: (i,) int64 tile an island starts in. end_u, end_v: tile it ends in, itself included: larger where it crosses a
    border. home_u, home_v: the tile of its middle, where it is at home although a little of it reaches over a border.
    inside: (i,) whether it lies in one tile. number: (i,) int32 UDIM number, 0 where there is none: U outside
    0..9, V below 0, or not inside one tile."""

    u: NDArray[np.int64]
    v: NDArray[np.int64]
    end_u: NDArray[np.int64]
    end_v: NDArray[np.int64]
    inside: NDArray[np.bool_]
    number: NDArray[np.int32]
    home_u: NDArray[np.int64]
    home_v: NDArray[np.int64]


def udim_number(u: float, v: float) -> int:
    """UDIM number of the tile that holds the point, 0 where the numbering has none."""
    across, up = int(np.floor(u)), int(np.floor(v))
    return 1001 + across + 10 * up if 0 <= across <= 9 and up >= 0 else 0


def island_tiles(boxes: NDArray[np.float64], slack: float | NDArray[np.float64] = 0.0) -> IslandTiles:
    """Tiles of islands from their boxes (i, 4) u0, v0, u1, v1 (finite).

    slack: UV units an island may reach over a border and still count as inside (0 allows for rounding alone), one for all or
    (i, 2) across and up for each.
    """
    scale = np.maximum(1.0, np.abs(boxes).max(axis=1)) if len(boxes) else np.zeros(0)
    margins = np.broadcast_to(np.maximum(slack, _ROUNDING * scale[:, None]), (len(boxes), 2))
    first, last, home = [], [], []
    for axis in range(2):
        low, high, margin = boxes[:, axis], boxes[:, axis + 2], margins[:, axis]
        # A box narrower than the margins is placed by its middle.
        middle = 0.5 * (low + high)
        start = np.floor(np.minimum(low + margin, middle))
        end = np.ceil(np.maximum(high - margin, middle)) - 1.0
        first.append(_whole(start))
        last.append(_whole(np.maximum(start, end)))
        home.append(np.clip(_whole(np.floor(middle)), first[-1], last[-1]))
    inside = (first[0] == last[0]) & (first[1] == last[1])
    named = inside & (first[0] >= 0) & (first[0] <= 9) & (first[1] >= 0) & (first[1] < 100_000)
    number = np.where(named, 1001 + first[0] + 10 * first[1], 0).astype(np.int32)
    return IslandTiles(first[0], first[1], last[0], last[1], inside, number, home[0], home[1])


def _whole(values: NDArray[np.float64]) -> NDArray[np.int64]:
    """As integers; what lies beyond all numbers that float64 holds exactly is the farthest tile there is."""
    return np.clip(values, -_FARTHEST, _FARTHEST).astype(np.int64)


def repeats(boxes: NDArray[np.float64]) -> NDArray[np.float64]:
    """(i, 2) tile widths and heights an island spans: above 1 its own surface repeats the map."""
    return boxes[:, 2:] - boxes[:, :2]
