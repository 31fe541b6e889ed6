"""Hatches: patterns that tell marks apart without color."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

KINDS = ("rising", "falling", "upright", "lattice", "level", "dots")


def hatch(kind: str, width: int, height: int, step: int, thick: int, at: tuple[int, int] = (0, 0)) -> NDArray[np.bool_]:
    """(height, width) pattern: lines `thick` pixels wide every `step` pixels, or dots of that spacing. at: where this
    piece lies in the whole, so that pieces fit together."""
    x, y = np.arange(at[0], at[0] + width)[None, :], np.arange(at[1], at[1] + height)[:, None]
    if kind == "rising":
        return (x + y) % step < thick
    if kind == "falling":
        return (x - y) % step < thick
    if kind == "upright":
        return np.broadcast_to(x % step < thick, (height, width)).copy()
    if kind == "level":
        return np.broadcast_to(y % step < thick, (height, width)).copy()
    if kind == "lattice":
        return ((x + y) % (2 * step) < thick) | ((x - y) % (2 * step) < thick)
    # Dots: every other row shifted by half a step.
    row = y // step
    across = (x + (row % 2) * (step // 2)) % step
    middle = (step - 1) / 2
    reach = thick * 1.2
    return (across - middle) ** 2 + (y % step - middle) ** 2 <= reach * reach
