"""Metalness between bare metal and none: real surfaces are one or the other, edges and dirt aside."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

LOW, HIGH = 0.1, 0.9  # common practice, no source


@dataclass(frozen=True, slots=True)
class MetalnessUse:
    """Shares of texels below `low`, between the two limits, and above `high`."""

    none: float
    between: float
    metal: float


def metalness_use(counts: NDArray[np.int64], low: float = LOW, high: float = HIGH) -> MetalnessUse:
    """From the histogram of a metalness channel. A code exactly on a limit is not between. All zero for an empty one."""
    total = max(int(counts.sum()), 1)
    value = np.arange(len(counts)) / (len(counts) - 1)
    none, metal = int(counts[value <= low].sum()), int(counts[value >= high].sum())
    return MetalnessUse(none / total, (int(counts.sum()) - none - metal) / total, metal / total)
