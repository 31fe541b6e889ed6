"""A long list worked off in stretches of bounded size, so that memory does not grow with the input."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import numpy as np
from numpy.typing import NDArray


def batches(sizes: NDArray[Any], at_once: int) -> Iterator[tuple[int, int]]:
    """Stretches (begin, stop) of the list whose sizes sum up to at most at_once, or that hold one larger entry."""
    until = np.cumsum(sizes, dtype=np.int64)
    begin = 0
    while begin < len(until):
        done = int(until[begin - 1]) if begin else 0
        stop = max(begin + 1, int(np.searchsorted(until, done + at_once, side="right")))
        yield begin, stop
        begin = stop
