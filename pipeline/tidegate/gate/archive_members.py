"""What an archive lists: plain files only, and no more of the list than a drop may need.

The lists are read whole by the standard library and by the daemon itself, so what they may take is limited too: a few
megabytes of gzip hold gigabytes of one name.
"""

from __future__ import annotations

import contextlib
import gzip
import os
import stat
import tarfile
import zipfile
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import IO, cast

from tidegate.errors import LimitExceeded, UnreadableFile

from .archive_limits import ArchiveLimits
from .faults import shown

CHUNK = 1 << 20
FREE_LIST, TAR_HEADER, ZIP_ENTRY = 1 << 20, 4096, 1024
"""Bytes a list may take: in any case, and for each file that the limits allow (a tar header with long names, a ZIP entry)."""
_TAIL = 64 << 20
"""What may stand after the last member of a tar: padding, never more."""


@dataclass(frozen=True, slots=True)
class Member:
    """name: as in the archive, "/" between parts. size: in bytes as stated; counted again while unpacking. mtime is not kept."""

    name: str
    size: int
    open: Callable[[], IO[bytes]]


@contextlib.contextmanager
def members_of(archive: Path, limits: ArchiveLimits) -> Iterator[Iterator[Member]]:
    """The files of the archive. Raises UnreadableFile or LimitExceeded, and what the standard library raises for a bad one."""
    if archive.name.lower().endswith(".zip"):
        with archive.open("rb") as file:
            metered = Metered(archive, file, FREE_LIST + ZIP_ENTRY * limits.files)
            with zipfile.ZipFile(cast("IO[bytes]", metered)) as packed:
                metered.listed()
                yield _zip_members(archive, packed)
    else:
        with gzip.open(archive) as stream:
            metered = Metered(archive, stream, FREE_LIST + TAR_HEADER * limits.files)
            with tarfile.open(fileobj=cast("IO[bytes]", metered), mode="r:") as packed_tar:
                yield _tar_members(archive, packed_tar, metered)


class Metered:
    """A stream that gives no more than `room` bytes while the list of members is read."""

    def __init__(self, archive: Path, stream: IO[bytes] | gzip.GzipFile, room: int) -> None:
        self._archive, self._stream, self._room = archive, stream, room
        self._most, self._listing = room, True

    def listing(self) -> None:
        """From here on the list is read on."""
        self._listing = True

    def listed(self) -> None:
        """From here on it is not the list that is read."""
        self._listing = False

    def read(self, size: int = -1, /) -> bytes:
        if self._listing:
            data = self._stream.read(self._room + 1 if size < 0 else min(size, self._room + 1))
            self._room -= len(data)
            if self._room < 0:
                raise too_much(self._archive, f"{self._most} bytes of names and headers", "more")
            return data
        return self._stream.read(size)

    def seek(self, offset: int, whence: int = 0, /) -> int:
        return self._stream.seek(offset, whence)

    def tell(self) -> int:
        return self._stream.tell()

    def seekable(self) -> bool:
        return True


def _zip_members(archive: Path, packed: zipfile.ZipFile) -> Iterator[Member]:
    for info in packed.infolist():
        name = _name_in_zip(info)
        kind = stat.S_IFMT(info.external_attr >> 16)
        if kind not in (0, stat.S_IFREG, stat.S_IFDIR):
            raise bad(archive, "a member is a link or device", shown(name))
        if info.flag_bits & 1:
            raise bad(archive, "a member is encrypted", shown(name))
        if not info.is_dir():
            # mypy cannot infer a lambda that binds its loop variable by a default.
            yield Member(name, info.file_size, lambda info=info: packed.open(info))  # type: ignore[misc]


def _name_in_zip(info: zipfile.ZipInfo) -> str:
    """The name as it was packed.

    It is UTF-8 where bit 11 of the flags says so, else in code page 437 (APPNOTE 4.4.4, appendix D). Many packers write UTF-8
    without saying so; hardly any other bytes read as UTF-8, so where they do they are taken for it.
    """
    name = info.orig_filename  # `filename` ends at a zero byte and knows the separators of this system
    if info.flag_bits & 0x800:
        return name
    try:
        return name.encode("cp437").decode("utf-8")
    except UnicodeError:
        return name


def _tar_members(archive: Path, packed: tarfile.TarFile, stream: Metered) -> Iterator[Member]:
    """A name that is no UTF-8 stands as the very bytes it was packed with."""
    while True:
        stream.listing()
        info = packed.next()
        stream.listed()
        if info is None:
            break
        # It would keep them all. That it has this list the type hints of the library leave out.
        packed.members.clear()  # type: ignore[attr-defined]
        if info.isdir():
            continue
        if not info.isreg():
            raise bad(archive, "a member is a link or device", shown(info.name))
        # As above: the default binds the loop variable.
        yield Member(info.name, info.size, lambda info=info: _opened(packed, info))  # type: ignore[misc]
    # A cut tar looks like a shorter one; only the end of the gzip stream around it tells (RFC 1952, 2.3.1).
    for _ in chunks(archive, stream, _TAIL):
        pass


def _opened(packed: tarfile.TarFile, info: tarfile.TarInfo) -> IO[bytes]:
    source = packed.extractfile(info)
    assert source is not None, "only regular members are opened"
    return source


def chunks(archive: Path, source: IO[bytes] | Metered, allowed: int) -> Iterator[bytes]:
    """What the source holds, piece by piece. Raises LimitExceeded when that is more than `allowed` bytes."""
    count = 0
    while chunk := source.read(CHUNK):
        count += len(chunk)
        if count > allowed:
            raise too_much(archive, f"{allowed} bytes more", "more than stated")
        yield chunk


def bad(archive: Path, what: str, came: str) -> UnreadableFile:
    return UnreadableFile(
        what,
        path=shown(archive.name),
        expected="plain files under relative paths",
        came=came,
        done="nothing of it was judged; the archive goes aside whole",
        help="pack the prop's files alone, without links, and send it again",
    )


def too_much(archive: Path, expected: str, came: str) -> LimitExceeded:
    return LimitExceeded(
        "the archive unpacks to more than the limits allow",
        path=shown(archive.name),
        expected=f"at most {expected}",
        came=came,
        done="nothing of it was judged; the archive goes aside whole",
        help="send it in parts, or let the gate's configuration raise the limit",
    )


def unportable_here(part: str) -> str:
    """Why a disk of this system would hold another file under that name, "" when it would not.

    Windows takes CON, NUL and others for devices, whatever their suffix, drops dots and spaces at the end, and takes what
    follows a colon for a second content of the file. Elsewhere such a name is an ordinary one; the check of names tells it.
    """
    if os.name != "nt":
        return ""
    from tidegate.model.portable_names import name_faults

    changing = ("windows-device", "trailing-dot-or-space", "windows-character", "control-character")
    return next((sentence for code, sentence in name_faults(part) if code in changing), "")
