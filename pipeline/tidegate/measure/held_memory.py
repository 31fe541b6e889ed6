"""Memory that is given back is kept at hand while a large mesh is measured.

Measuring takes and gives back hundreds of arrays of many megabytes. The C library of GNU systems hands each of them to
the kernel and asks for new ones, which have to be cleared page by page: a fifth of the time of a million triangles.
"""

from __future__ import annotations

import sys

LARGE = 100_000
"""Triangles from which on it is worth it, and from which on measures run side by side (`geometry.meanwhile`)."""

_TRIM_THRESHOLD, _MMAP_MAX, _ARENA_MAX = -1, -4, -8  # malloc.h
_KEPT = 1 << 29  # bytes at the end of the heap that are not given back


def hold_memory(kept: int = _KEPT) -> bool:
    """Whether the C library was told to keep up to `kept` bytes of what is given back, for the life of this process."""
    if not sys.platform.startswith("linux"):
        return False
    import ctypes

    mallopt = getattr(ctypes.CDLL(None), "mallopt", None)
    if mallopt is None:  # not every C library has it
        return False
    return all([mallopt(_ARENA_MAX, 1), mallopt(_MMAP_MAX, 0), mallopt(_TRIM_THRESHOLD, kept)])
