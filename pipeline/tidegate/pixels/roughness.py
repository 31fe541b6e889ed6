"""Roughness that does not vary, or that was cut off at an end of its range."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from .histogram import code_at_share

_TAIL = 0.005  # of the texels, left aside at both ends before the spread is taken


@dataclass(frozen=True, slots=True)
class RoughnessUse:
    """spread: between the 0.5th and the 99.5th percentile, 0 .. 1. at_zero, at_one: shares of texels at the ends of the range.

    piled_up: of at_zero and at_one, the larger one that a smooth tail does not explain: share at the end less the share of
    the next sixteenth of the range.
    """

    spread: float
    at_zero: float
    at_one: float
    piled_up: float

    @property
    def constant(self) -> bool:
        """Nearly every texel has one value, give or take an 8-bit step."""
        return self.spread <= 1 / 255


def roughness_use(counts: NDArray[np.int64]) -> RoughnessUse:
    """From the histogram of a roughness channel. An empty one is constant."""
    total = max(int(counts.sum()), 1)
    top = len(counts) - 1
    beside = len(counts) // 16
    spread = (code_at_share(counts, 1 - _TAIL) - code_at_share(counts, _TAIL)) / top
    at_zero, at_one = int(counts[0]) / total, int(counts[top]) / total
    low = at_zero - int(counts[1 : beside + 1].sum()) / total
    high = at_one - int(counts[top - beside : top].sum()) / total
    return RoughnessUse(spread, at_zero, at_one, max(0.0, low, high))
