"""Lists, strips and fans of vertex numbers -> triangles (glTF 2.0 section 3.7.2.1)."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray


def list_triangles(indices: NDArray[Any]) -> NDArray[np.int32]:
    """(len // 3, 3): three numbers a triangle; what is left over at the end is dropped."""
    return _as_int32(indices[: len(indices) // 3 * 3]).reshape(-1, 3)


def strip_triangles(indices: NDArray[Any]) -> NDArray[np.int32]:
    """(len - 2, 3): triangle i is i, i + 1 + i % 2, i + 2 - i % 2, so that all of them wind the same way."""
    at = np.arange(max(len(indices) - 2, 0))
    odd = at & 1
    return np.take(_as_int32(indices), np.stack([at, at + 1 + odd, at + 2 - odd], axis=1))


def fan_triangles(indices: NDArray[Any]) -> NDArray[np.int32]:
    """(len - 2, 3): triangle i is i + 1, i + 2, 0."""
    at = np.arange(max(len(indices) - 2, 0))
    return np.take(_as_int32(indices), np.stack([at + 1, at + 2, np.zeros_like(at)], axis=1))


def _as_int32(indices: NDArray[Any]) -> NDArray[np.int32]:
    """Vertex numbers, known to be below 2**31. 32-bit ones are looked at anew, not copied."""
    if indices.dtype == np.uint32 and indices.flags.c_contiguous:
        return indices.view(np.int32)
    return indices.astype(np.int32)
