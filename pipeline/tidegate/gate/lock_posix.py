"""flock(2). On NFS since Linux 2.6.12 it is kept by the server, on older ones it holds on one machine only."""

from __future__ import annotations

import fcntl
import os
from pathlib import Path

LOCKS = Path("/proc/locks")
PID_AT = 0
"""Where in the lock file its holder writes its process number."""


def lock(descriptor: int) -> bool:
    """Whether the lock could be had. It goes when the descriptor is closed or its process ends."""
    try:
        fcntl.flock(descriptor, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except OSError:
        return False
    return True


def is_locked(descriptor: int, pid: int) -> bool:
    """Whether process `pid` holds the lock: from the kernel's list of locks (proc(5)), without trying for it.

    Where the system has no such list, a process of that number being there has to do. A holder on another machine that
    shares the folder is seen by neither.
    """
    if not pid:
        return False
    try:
        rows = [line.split() for line in LOCKS.read_text("ascii").splitlines()]
    except OSError:
        return _is_there(pid)
    inode = str(os.fstat(descriptor).st_ino)
    # "1: FLOCK ADVISORY WRITE 4711 fd:01:131 0 EOF"; btrfs states another device than stat does, so only the inode counts.
    return any(len(row) >= 6 and row[4] == str(pid) and row[5].rpartition(":")[2] == inode for row in rows)


def _is_there(pid: int) -> bool:
    try:
        os.kill(pid, 0)
    except PermissionError:
        return True
    except (OSError, OverflowError):
        return False
    return True
