"""Archives from vendors: `zip`, `tar.gz` and `tgz`, unpacked within limits into a folder of copies.

Only plain files come out. Links, devices, encrypted members, absolute paths, drive letters, `..` and two members of one
name refuse the whole archive, with the member's name: half an archive is not a drop.
"""

from __future__ import annotations

import gzip
import os
import re
import struct
import tarfile
import zipfile
import zlib
from collections.abc import Iterator
from pathlib import Path

from . import durable
from .archive_limits import ArchiveLimits
from .archive_members import Member, bad, chunks, members_of, too_much, unportable_here
from .faults import NameTaken, shown
from .names import LONGEST, same_to_some

SUFFIXES = (".zip", ".tar.gz", ".tgz")
_FREE_BYTES = 1 << 20
"""Below this the ratio is not looked at: a few flat pictures compress very well."""


def is_archive(name: str) -> bool:
    return name.lower().endswith(SUFFIXES)


def unpack(archive: Path, target: Path, limits: ArchiveLimits) -> None:
    """Unpack into `target`, a new folder. Raises UnreadableFile or LimitExceeded for a bad archive, GateFault for the disk.

    What was written stays there when it raises; the caller removes it (`durable.remove_copies`).
    """
    durable.make_folder(target)
    try:
        with members_of(archive, limits) as members:
            _write(archive, target, members, limits)
    except UnicodeDecodeError as error:
        raise bad(
            archive, "a member's name says that it is UTF-8 and is not", shown(os.fsdecode(error.object))
        ) from error
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
        raise bad(archive, "the archive cannot be unpacked", f"{type(error).__name__}: {error}") from error


def _write(archive: Path, target: Path, members: Iterator[Member], limits: ArchiveLimits) -> None:
    packed = archive.stat().st_size
    allowed = min(limits.bytes, max(int(packed * limits.ratio), _FREE_BYTES))
    seen: dict[str, str] = {}
    folders: set[str] = set()
    total = 0
    for member in members:
        parts = _safe_parts(archive, member.name)
        if len(parts) > limits.depth:
            raise too_much(archive, f"{limits.depth} folders deep", f"{shown(member.name)}: {len(parts)}")
        if len(seen) >= limits.files:
            raise too_much(archive, f"{limits.files} files", "more")
        key = same_to_some("/".join(parts))
        if key in seen:
            raise bad(archive, "two members have one name", f"{shown(seen[key])} and {shown(member.name)}")
        above = {same_to_some("/".join(parts[:count])) for count in range(1, len(parts))}
        if key in folders or any(each in seen for each in above):
            raise bad(archive, "a member's name is a file and a folder", shown(member.name))
        seen[key] = member.name
        folders |= above
        if total + member.size > allowed:
            raise too_much(archive, f"{allowed} bytes", f"{total + member.size} stated")
        folder = target.joinpath(*parts[:-1])
        if folder != target:
            durable.make_folders(folder)
        try:
            with member.open() as source:
                total += durable.pour_new(folder / parts[-1], chunks(archive, source, allowed - total)).bytes
        except NameTaken as error:
            raise bad(archive, "a member's name is a file and a folder", shown(member.name)) from error
    if not seen:
        raise bad(archive, "the archive holds no file", "0 members")


def _safe_parts(archive: Path, name: str) -> tuple[str, ...]:
    if name.startswith(("/", "\\")) or re.match(r"[A-Za-z]:", name) or "\\" in name or "\0" in name:
        raise bad(archive, "a member leads outside the archive", shown(name))
    parts = tuple(part for part in name.split("/") if part not in ("", "."))
    if not parts or ".." in parts:
        raise bad(archive, "a member leads outside the archive", shown(name))
    if any(len(os.fsencode(part)) > LONGEST for part in parts):
        raise bad(archive, f"a member's name is too long: at most {LONGEST} bytes a part", shown(name))
    for part in parts:
        if why := unportable_here(part):
            raise bad(archive, f"a member's name cannot be held here: {why}", shown(name))
    return parts
