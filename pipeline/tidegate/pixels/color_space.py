"""The sRGB curve and the luminance weights.

sRGB: IEC 61966-2-1:1999, constants as in the Khronos Data Format Specification 1.4, "sRGB EOTF".
Luminance: Rec. ITU-R BT.709-6, of linear values.
"""

from __future__ import annotations

from functools import cache
from typing import Any

import numpy as np
from numpy.typing import NDArray

LUMINANCE = (0.2126, 0.7152, 0.0722)


def decode(value: NDArray[Any] | float) -> NDArray[np.float64]:
    """sRGB value 0 .. 1 to linear light 0 .. 1."""
    value = np.asarray(value, np.float64)
    return np.where(value <= 0.04045, value / 12.92, ((value + 0.055) / 1.055) ** 2.4)


def encode(linear: NDArray[Any] | float) -> NDArray[np.float64]:
    """Linear light 0 .. 1 to sRGB value 0 .. 1."""
    linear = np.asarray(linear, np.float64)
    return np.where(linear <= 0.0031308, 12.92 * linear, 1.055 * np.maximum(linear, 0.0) ** (1 / 2.4) - 0.055)


@cache
def decode_table(codes: int = 256) -> NDArray[np.float64]:
    """Linear light of every code of a channel with `codes` codes."""
    table = decode(np.arange(codes) / (codes - 1))
    table.flags.writeable = False
    return table


@cache
def encode_table(codes: int = 256) -> NDArray[np.float64]:
    """sRGB value 0 .. 1 of every code read as linear light."""
    table = encode(np.arange(codes) / (codes - 1))
    table.flags.writeable = False
    return table
