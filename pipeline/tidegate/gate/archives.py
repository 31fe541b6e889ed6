"""Archives from vendors: `zip`, `tar.gz` and `tgz`, unpacked within limits into a folder of copies.

Only plain files come out. Links, devices, encrypted members, absolute paths, drive letters, `..` and two members of one
name refuse the whole archive, with the member's name: half an archive is not a drop.
"""

from __future__ import annotations

import contextlib
import gzip
import re
import stat
import struct
import tarfile
import zipfile
import zlib
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import IO

from tidegate.errors import LimitExceeded, UnreadableFile

from . import durable
from .archive_limits import ArchiveLimits
from .faults import NameTaken, shown
from .names import LONGEST, same_to_some

SUFFIXES = (".zip", ".tar.gz", ".tgz")
_CHUNK = 1 << 20
_FREE_BYTES = 1 << 20
"""Below this the ratio is not looked at: a few flat pictures compress very well."""

_TAIL = 64 << 20
"""What may stand after the last member of a tar: padding, never more."""


@dataclass(frozen=True, slots=True)
class Member:
    """name: as in the archive, "/" between parts. size: in bytes as stated; counted again while unpacking. mtime is not kept."""

    name: str
    size: int
    open: Callable[[], IO[bytes]]


def is_archive(name: str) -> bool:
    return name.lower().endswith(SUFFIXES)


def unpack(archive: Path, target: Path, limits: ArchiveLimits) -> None:
    """Unpack into `target`, a new folder. Raises UnreadableFile or LimitExceeded for a bad archive, GateFault for the disk.

    What was written stays there when it raises; the caller removes it (`durable.remove_copies`).
    """
    durable.make_folder(target)
    try:
        with _members(archive) as members:
            _write(archive, target, members, limits)
    except (
        zipfile.BadZipFile,
        gzip.BadGzipFile,  # an OSError, but the file's fault and not the disk's
        tarfile.TarError,
        zlib.error,
        struct.error,
        EOFError,
        LookupError,
        NotImplementedError,
        OverflowError,
        RuntimeError,
        ValueError,
    ) as error:
        raise _bad(archive, "the archive cannot be unpacked", f"{type(error).__name__}: {error}") from error


def _write(archive: Path, target: Path, members: Iterator[Member], limits: ArchiveLimits) -> None:
    packed = archive.stat().st_size
    allowed = min(limits.bytes, max(int(packed * limits.ratio), _FREE_BYTES))
    seen: dict[str, str] = {}
    folders: set[str] = set()
    total = 0
    for member in members:
        parts = _safe_parts(archive, member.name)
        if len(parts) > limits.depth:
            raise _too_much(archive, f"{limits.depth} folders deep", f"{shown(member.name)}: {len(parts)}")
        if len(seen) >= limits.files:
            raise _too_much(archive, f"{limits.files} files", "more")
        key = same_to_some("/".join(parts))
        if key in seen:
            raise _bad(archive, "two members have one name", f"{shown(seen[key])} and {shown(member.name)}")
        above = {same_to_some("/".join(parts[:count])) for count in range(1, len(parts))}
        if key in folders or any(each in seen for each in above):
            raise _bad(archive, "a member's name is a file and a folder", shown(member.name))
        seen[key] = member.name
        folders |= above
        if total + member.size > allowed:
            raise _too_much(archive, f"{allowed} bytes", f"{total + member.size} stated")
        folder = target.joinpath(*parts[:-1])
        if folder != target:
            durable.make_folders(folder)
        try:
            with member.open() as source:
                total += durable.pour_new(folder / parts[-1], _chunks(archive, source, allowed - total)).bytes
        except NameTaken as error:
            raise _bad(archive, "a member's name is a file and a folder", shown(member.name)) from error
    if not seen:
        raise _bad(archive, "the archive holds no file", "0 members")


def _chunks(archive: Path, source: IO[bytes] | gzip.GzipFile, allowed: int) -> Iterator[bytes]:
    count = 0
    while chunk := source.read(_CHUNK):
        count += len(chunk)
        if count > allowed:
            raise _too_much(archive, f"{allowed} bytes more", "more than stated")
        yield chunk


def _safe_parts(archive: Path, name: str) -> tuple[str, ...]:
    if name.startswith(("/", "\\")) or re.match(r"[A-Za-z]:", name) or "\\" in name or "\0" in name:
        raise _bad(archive, "a member leads outside the archive", shown(name))
    parts = tuple(part for part in name.split("/") if part not in ("", "."))
    if not parts or ".." in parts:
        raise _bad(archive, "a member leads outside the archive", shown(name))
    if any(len(part.encode("utf-8", "surrogatepass")) > LONGEST for part in parts):
        raise _bad(archive, f"a member's name is too long: at most {LONGEST} bytes a part", shown(name))
    return parts


@contextlib.contextmanager
def _members(archive: Path) -> Iterator[Iterator[Member]]:
    if archive.name.lower().endswith(".zip"):
        with zipfile.ZipFile(archive) as packed:
            yield _zip_members(archive, packed)
    else:
        with gzip.open(archive) as stream, tarfile.open(fileobj=stream, mode="r:") as packed_tar:
            yield _tar_members(archive, packed_tar, stream)


def _zip_members(archive: Path, packed: zipfile.ZipFile) -> Iterator[Member]:
    for info in packed.infolist():
        kind = stat.S_IFMT(info.external_attr >> 16)
        if kind not in (0, stat.S_IFREG, stat.S_IFDIR):
            raise _bad(archive, "a member is a link or device", shown(info.filename))
        if info.flag_bits & 1:
            raise _bad(archive, "a member is encrypted", shown(info.filename))
        if not info.is_dir():
            # mypy cannot infer a lambda that binds its loop variable by a default.
            yield Member(info.filename, info.file_size, lambda info=info: packed.open(info))  # type: ignore[misc]


def _tar_members(archive: Path, packed: tarfile.TarFile, stream: gzip.GzipFile) -> Iterator[Member]:
    for info in packed:
        if info.isdir():
            continue
        if not info.isreg():
            raise _bad(archive, "a member is a link or device", shown(info.name))
        # As above: the default binds the loop variable.
        yield Member(info.name, info.size, lambda info=info: _opened(packed, info))  # type: ignore[misc]
    # A cut tar looks like a shorter one; only the end of the gzip stream around it tells (RFC 1952, 2.3.1).
    for _ in _chunks(archive, stream, _TAIL):
        pass


def _opened(packed: tarfile.TarFile, info: tarfile.TarInfo) -> IO[bytes]:
    source = packed.extractfile(info)
    assert source is not None, "only regular members are opened"
    return source


def _bad(archive: Path, what: str, came: str) -> UnreadableFile:
    return UnreadableFile(
        what,
        path=shown(archive.name),
        expected="plain files under relative paths",
        came=came,
        done="nothing of it was judged; the archive goes aside whole",
        help="pack the prop's files alone, without links, and send it again",
    )


def _too_much(archive: Path, expected: str, came: str) -> LimitExceeded:
    return LimitExceeded(
        "the archive unpacks to more than the limits allow",
        path=shown(archive.name),
        expected=f"at most {expected}",
        came=came,
        done="nothing of it was judged; the archive goes aside whole",
        help="send it in parts, or let the gate's configuration raise the limit",
    )
