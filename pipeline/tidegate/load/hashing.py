"""SHA-256 of files, read in blocks so that size does not matter."""

from __future__ import annotations

import hashlib
from dataclasses import replace
from pathlib import Path

from tidegate.errors import UnreadableFile
from tidegate.model.prop import DropFile

_BLOCK = 1 << 20


def sha256_of(path: Path) -> str:
    """Hex digest of a file's bytes. Raises UnreadableFile when it cannot be read."""
    digest = hashlib.sha256()
    buffer = bytearray(_BLOCK)
    view = memoryview(buffer)
    try:
        with path.open("rb", buffering=0) as stream:
            while count := stream.readinto(buffer):
                digest.update(view[:count])
    except OSError as fault:
        raise UnreadableFile(f"it cannot be read: {fault.strerror or fault}", path=str(path)) from fault
    return digest.hexdigest()


def hashed(file: DropFile) -> DropFile:
    """The same file with its hash; "" stays where the file is not looked into or cannot be read."""
    if file.sha256 or file.note:
        return file
    try:
        return replace(file, sha256=sha256_of(Path(file.location)))
    except UnreadableFile:
        return file
