"""How finely a height map is stepped, whatever its file claims."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray


@dataclass(frozen=True, slots=True)
class HeightCodes:
    """distinct: codes that occur. low, high: extreme codes. step: largest number that divides every difference of two codes.

    eight_bit_inside: 16-bit codes that are all multiples of 257 or all of 256: an 8-bit map saved anew. It takes at least
    three codes to say so.
    """

    distinct: int
    low: int
    high: int
    step: int
    eight_bit_inside: bool


def height_codes(counts: NDArray[np.int64]) -> HeightCodes:
    """From the histogram of a height channel, 256 or 65,536 codes. All zero for an empty one."""
    used = np.flatnonzero(counts)
    if not len(used):
        return HeightCodes(0, 0, 0, 0, False)
    step = int(np.gcd.reduce(np.diff(used))) if len(used) > 1 else 0
    stretched = len(counts) > 256 and len(used) >= 3 and bool((used % 257 == 0).all() or (used % 256 == 0).all())
    return HeightCodes(len(used), int(used[0]), int(used[-1]), step, stretched)
