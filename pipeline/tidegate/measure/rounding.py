"""Rounding of measured columns, so that the order of sums never decides a verdict."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

DIGITS = 9


def significant(values: NDArray[np.float64], digits: int = DIGITS) -> NDArray[np.float64]:
    """`values` to `digits` significant digits; zero, NaN and infinities unchanged, -0.0 folded to 0.0.

    Sums over the same triangles in another order differ in the last bits (about 1e-16 of the value); nine digits lie
    far above that and far below any limit a person would set.
    """
    values = np.asarray(values, dtype=np.float64)
    out = values + 0.0
    solid = np.isfinite(values) & (values != 0)
    if solid.any():
        exponent = np.floor(np.log10(np.abs(values[solid])))
        scale = 10.0 ** (digits - 1 - exponent)
        near = np.round(values[solid] * scale) / scale
        # Values beyond the range of the scale (below 1e-300) stay as they are.
        out[solid] = np.where(np.isfinite(near), near, values[solid])
    return out
