"""One daemon a gate: a lock that the kernel lets go of when its holder dies, however it dies."""

from __future__ import annotations

import contextlib
import os
import sys
from collections.abc import Iterator
from pathlib import Path

from tidegate.errors import TransientFault

from .faults import disk_step, shown
from .proof import open_flags

if sys.platform == "win32":
    from .lock_windows import PID_AT, is_locked, lock
else:
    from .lock_posix import PID_AT, is_locked, lock


@contextlib.contextmanager
def held(path: Path) -> Iterator[None]:
    """Hold the lock file while inside. Raises TransientFault, naming the holder, when another process has it."""
    with disk_step("could not open the lock file", path):
        path.parent.mkdir(parents=True, exist_ok=True)
        descriptor = os.open(path, open_flags("O_RDWR", "O_CREAT"), 0o644)
    try:
        if not lock(descriptor):
            raise TransientFault(
                "another process serves this gate",
                path=shown(path),
                came=f"held by process {_written(descriptor) or 'unknown'}",
                done="nothing was touched",
                help="stop that process first; the lock goes with it",
            )
        with disk_step("could not write the lock file", path):
            os.ftruncate(descriptor, PID_AT)
            os.lseek(descriptor, PID_AT, os.SEEK_SET)
            os.write(descriptor, f"{os.getpid()}\n".encode("ascii"))
        yield
    finally:
        with contextlib.suppress(OSError):  # nothing rests on it: the lock goes with the process at the latest
            os.close(descriptor)


def holder(path: Path) -> int | None:
    """The process that holds the lock, None when none does. Takes no lock, so it never keeps a daemon from starting."""
    try:
        descriptor = os.open(path, open_flags("O_RDONLY"))
    except OSError:
        return None
    try:
        pid = _written(descriptor)
        return pid if is_locked(descriptor, pid) else None
    finally:
        os.close(descriptor)


def _written(descriptor: int) -> int:
    """The process number in the file, 0 when there is none. It stays there when its writer ends."""
    try:
        os.lseek(descriptor, PID_AT, os.SEEK_SET)
        text = os.read(descriptor, 32).strip()
    except OSError:
        return 0
    return int(text) if text.isdigit() else 0
