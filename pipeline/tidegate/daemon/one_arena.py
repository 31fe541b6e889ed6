"""Memory of the daemon stays level however many drops have passed: its threads share one heap.

glibc gives each thread a heap (arena) of its own. Hands read files into large buffers and keep little of them, in turns, so
each of their heaps breaks into pieces that no other may use: 2 to 3 KiB a drop, seen in `tests.gate.many`, though what is
in use stays the same. With one heap that is gone, at the same speed: hands mostly wait for the disk.
"""

from __future__ import annotations

import ctypes
import sys

_ARENA_MAX = -8
"""M_ARENA_MAX, mallopt(3)."""


def share_one_arena() -> None:
    """For the whole process, before its second thread starts: later it changes nothing. Nor does it where there is no glibc."""
    if sys.platform == "linux" and (mallopt := getattr(ctypes.CDLL(None), "mallopt", None)):
        mallopt(_ARENA_MAX, 1)
