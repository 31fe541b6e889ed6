"""One daemon a gate: a lock that the kernel lets go of when its holder dies, however it dies."""

from __future__ import annotations

import fcntl
import os
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from tidegate.errors import TransientFault

from .faults import disk_step, shown


@contextmanager
def held(path: Path) -> Iterator[None]:
    """Hold the lock file while inside. Raises TransientFault, naming the holder, when another process has it.

    The lock is flock(2): on NFS since Linux 2.6.12 it is kept by the server, on older ones it holds on one machine only.
    """
    with disk_step("could not open the lock file", path):
        path.parent.mkdir(parents=True, exist_ok=True)
        descriptor = os.open(path, os.O_RDWR | os.O_CREAT | os.O_CLOEXEC | os.O_NOFOLLOW, 0o644)
    try:
        try:
            fcntl.flock(descriptor, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except OSError:
            holder = os.read(descriptor, 64).decode("ascii", "replace").strip()
            raise TransientFault(
                "another process serves this gate",
                path=shown(path),
                came=f"held by process {holder or 'unknown'}",
                done="nothing was touched",
                help="stop that process first; the lock goes with it",
            ) from None
        with disk_step("could not write the lock file", path):
            os.ftruncate(descriptor, 0)
            os.pwrite(descriptor, f"{os.getpid()}\n".encode("ascii"), 0)
        yield
    finally:
        os.close(descriptor)
