"""Formats that do not say which axis points up: the configuration does, and everything is turned Y up."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray


def y_up(vectors: NDArray[np.float64], up_axis: str) -> NDArray[np.float64]:
    """(n, 3) vectors turned so that `up_axis` ("y" or "z") becomes y. Raises ValueError for another axis.

    From Z up it is a quarter turn about x, (x, y, z) -> (x, z, -y), so nothing is mirrored.
    """
    if up_axis == "y":
        return vectors
    if up_axis != "z":
        raise ValueError(f'up_axis is "y" or "z", not {up_axis!r}')
    return np.stack((vectors[:, 0], vectors[:, 2], -vectors[:, 1]), axis=1)
