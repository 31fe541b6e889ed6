"""Reading a file for its SHA-256, without following links."""

from __future__ import annotations

import errno
import functools
import hashlib
import os
import stat
from dataclasses import dataclass
from pathlib import Path

CHUNK = 1 << 20


@dataclass(frozen=True, slots=True)
class Proof:
    """What a file held when it was read. sha256: hex."""

    bytes: int
    sha256: str


@functools.cache
def open_flags(*names: str) -> int:
    """Flags of open(2), with those that are always wanted: links not followed, not inherited, and no text mode.

    A flag that a system does not have is left out; there the kind of the file is checked after opening.
    """
    always = ("O_NOFOLLOW", "O_CLOEXEC", "O_NOINHERIT", "O_BINARY")
    flags = 0
    for name in (*names, *always):
        flags |= getattr(os, name, 0)
    return flags


def open_regular(path: Path | str) -> int:
    """A read descriptor of a regular file. Links are not followed and pipes do not hang (both raise OSError)."""
    if not hasattr(os, "O_NOFOLLOW") and os.path.islink(path):
        raise OSError(errno.ELOOP, "a link", os.fspath(path))
    descriptor = os.open(path, open_flags("O_RDONLY", "O_NONBLOCK"))
    if not stat.S_ISREG(os.fstat(descriptor).st_mode):
        os.close(descriptor)
        raise OSError(errno.EINVAL, "not a regular file", os.fspath(path))
    return descriptor


def proof_of(path: Path | str, *, from_disk: bool = False) -> Proof:
    """Count and hash of a file. from_disk: drop it from the page cache first, so the disk itself answers.

    The system may ignore that wish (dirty pages, a memory file system); call it after an fsync. Raises OSError.
    """
    descriptor = open_regular(path)
    try:
        if from_disk and hasattr(os, "posix_fadvise"):
            os.posix_fadvise(descriptor, 0, 0, os.POSIX_FADV_DONTNEED)
        digest, count = hashlib.sha256(), 0
        while chunk := os.read(descriptor, CHUNK):
            digest.update(chunk)
            count += len(chunk)
        return Proof(count, digest.hexdigest())
    finally:
        os.close(descriptor)
