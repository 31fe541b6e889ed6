"""A lock on the first byte of the file, which Windows lets go of when the process ends.

The lock is mandatory there: nobody else may read that byte, so the process number stands behind it.
"""

from __future__ import annotations

import importlib
import os
from typing import Any

PID_AT = 1
"""Where in the lock file its holder writes its process number."""

_msvcrt: Any = importlib.import_module("msvcrt")


def lock(descriptor: int) -> bool:
    """Whether the lock could be had. It goes when the descriptor is closed or its process ends."""
    os.lseek(descriptor, 0, os.SEEK_SET)
    try:
        _msvcrt.locking(descriptor, _msvcrt.LK_NBLCK, 1)
    except OSError:
        return False
    return True


def is_locked(descriptor: int, pid: int) -> bool:
    """Whether somebody holds the lock: then its byte cannot be read."""
    try:
        os.lseek(descriptor, 0, os.SEEK_SET)
        os.read(descriptor, 1)
    except PermissionError:
        return True
    return False
