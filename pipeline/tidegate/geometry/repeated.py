"""Where a layout comes in again on a map that is repeated without end: what lies beyond a border, moved by whole tiles."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray


def other_tiles(
    columns: NDArray[np.float64],
    period: tuple[float, float] = (1.0, 1.0),
    axes: tuple[bool, bool] = (True, True),
    most: int | None = None,
) -> tuple[NDArray[np.int64], NDArray[np.float64]] | None:
    """Copies that put into the first tile what triangles or lines have in others.

    columns: (c, 2, m) corners of things, period: width and height of a tile in their units, axes: those along which the
    map repeats. Returns which thing (k,) each copy is of, and the copy's corners (c, 2, k), for every tile but the first
    that a thing reaches into by more than its border. None when there were more than `most` copies. What is no number has no
    copy.
    """
    size = np.array(period)[:, None]
    with np.errstate(invalid="ignore"):
        low, high = np.floor(columns.min(axis=0) / size), np.ceil(columns.max(axis=0) / size) - 1.0
    for axis in range(2):
        if not axes[axis]:
            low[axis] = high[axis] = 0.0
    # A line upon a border, which has no width, belongs to the tile it bounds from either side: it stays.
    reach = high - low + 1.0
    beyond = np.isfinite(reach).all(axis=0) & ((low < 0.0) | (high > 0.0)).any(axis=0)
    here = np.flatnonzero(beyond & (reach >= 1.0).all(axis=0))
    copies = reach[:, here].prod(axis=0)
    if most is not None and copies.sum() > most:
        return None
    times = copies.astype(np.int64)
    which = np.repeat(here, times)
    step = np.arange(len(which)) - np.repeat(np.cumsum(times) - times, times)
    up, across = np.divmod(step, reach[0, which].astype(np.int64))
    tile = np.stack([low[0, which] + across, low[1, which] + up])
    kept = (tile != 0.0).any(axis=0)
    which, tile = which[kept], tile[:, kept]
    return which, columns[:, :, which] - (tile * size)[None]
