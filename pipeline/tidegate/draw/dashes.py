"""Lines drawn through, dashed or dotted."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray


def dashed(segments: NDArray[np.float64], on: float, off: float) -> NDArray[np.float64]:
    """The segments (4, s) cut into dashes of `on` pixels with `off` between them; unchanged where off is 0.

    Dashes are counted along the line from where it passes nearest to the corner of the picture, so that pieces of one
    straight border fit together.
    """
    if off <= 0 or segments.shape[1] == 0:
        return segments
    start, way = segments[:2], segments[2:] - segments[:2]
    length = np.hypot(way[0], way[1])
    kept = length > 0
    start, way, length = start[:, kept], way[:, kept], length[kept]
    way = way / length
    from_here = (start * way).sum(axis=0)
    period = on + off
    first = np.floor(from_here / period)
    number = (np.floor((from_here + length) / period) - first + 1).astype(np.int64)
    which = np.repeat(np.arange(len(length)), number)
    offset = np.arange(len(which)) - (np.cumsum(number) - number)[which]
    begin = (first[which] + offset) * period - from_here[which]
    low, high = np.maximum(begin, 0.0), np.minimum(begin + on, length[which])
    kept = high > low
    which, low, high = which[kept], low[kept], high[kept]
    return np.concatenate([start[:, which] + way[:, which] * low, start[:, which] + way[:, which] * high])
