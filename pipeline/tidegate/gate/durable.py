"""The primitive disk steps. Every change the gate makes to the disk goes through this module.

Each step raises GateFault (TransientFault, PermanentFault, or NameTaken, which is the one callers decide on), never
OSError. None of them ever replaces anything.

What moving onto a free name rests on, best first:

    renameat2(RENAME_NOREPLACE)      one atomic step; Linux on ext4, xfs, btrfs, tmpfs, cifs and most others
    rename on Windows                one step that refuses a taken name (MoveFileExW without MOVEFILE_REPLACE_EXISTING)
    a file: link, then unlink        the link refuses a taken name; a crash between leaves both names on one file
    a folder: mkdir, then rename     mkdir refuses a taken name, rename replaces only the empty folder just made; a
                                     reader may see that empty folder for an instant, a crash may leave it
    a file without links: copy       exclusively created, written, proven, then the source is removed; a reader may
                                     see the file growing. Only on file systems with neither of the above

A step is durable once `sync_folder` was called on the folders whose entries changed; callers do that once for a batch.
"""

from __future__ import annotations

import contextlib
import ctypes
import errno
import functools
import hashlib
import os
import secrets
import stat
from collections.abc import Callable, Iterable
from pathlib import Path

from tidegate.errors import TransientFault

from .faults import NameTaken, disk_step, fault_of, shown
from .proof import CHUNK, Proof, open_flags, open_regular, proof_of

PART = ".tidegate-part-"
"""Prefix of files still being written. A file with it holds nothing that is not elsewhere too."""

FILE_MODE, FOLDER_MODE = 0o644, 0o755
_NOREPLACE = 1
_AT_FDCWD = -100
_NOT_OFFERED = (errno.ENOSYS, errno.EINVAL, errno.EOPNOTSUPP)


def make_folder(path: Path) -> None:
    """Make a folder that is not there yet. Raises NameTaken if anything has the name."""
    with disk_step("could not make a folder", path):
        try:
            path.mkdir(mode=FOLDER_MODE)
        except FileExistsError:
            raise _taken(path) from None


def make_folders(path: Path | str, *, below: Path | str = "") -> None:
    """Make a folder and whatever is missing above it, all durable. Being there already is fine.

    below: a folder above it, or itself, that is there as long as its volume is; neither that nor anything above it is made.
    What is made where a volume is not mounted, and moved there, would be hidden once it is.
    """
    for folder in make_folders_loosely(path, below=below):
        sync_folder(folder.parent)


def make_folders_loosely(path: Path | str, *, below: Path | str = "") -> list[Path]:
    """As `make_folders`, without syncing: for folders whose parents are synced later. Gives those made, topmost first."""
    missing: list[str] = []
    at, top = os.fspath(path), os.fspath(below)
    while at != top and not os.path.isdir(at):
        missing.append(at)
        above = os.path.dirname(at)
        if above in (at, ""):
            break
        at = above
    for folder in reversed(missing):
        with disk_step("could not make a folder", folder):
            try:
                os.mkdir(folder, FOLDER_MODE)
            except FileExistsError:
                if not os.path.isdir(folder):
                    raise
    return [Path(folder) for folder in reversed(missing)]


def sync_folder(path: Path | str) -> None:
    """Make the entries of a folder durable. A file system that offers no such thing (EINVAL) is taken at its word.

    Windows cannot sync a folder at all: its file system's journal decides when a name is durable.
    """
    if os.name == "nt":
        return
    with disk_step("could not make a folder durable", path):
        descriptor = os.open(path, open_flags("O_RDONLY", "O_DIRECTORY"))
        try:
            os.fsync(descriptor)
        except OSError as error:
            if error.errno != errno.EINVAL:
                raise
        finally:
            os.close(descriptor)


def write_file(path: Path | str, data: bytes) -> Proof:
    """Write a new file that appears whole or not at all, and make it durable. Raises NameTaken."""
    part = part_beside(path)
    proof = write_new(part, data)
    _move_or_drop(part, path)
    sync_folder(os.path.dirname(path))
    return proof


def write_new(path: Path | str, data: bytes) -> Proof:
    """Write a new file under its name at once: for folders that nobody reads yet. The folder is not synced."""
    return pour_new(path, (data,))


def pour_new(path: Path | str, chunks: Iterable[bytes]) -> Proof:
    """As `write_new`, from chunks. What `chunks` raises passes through, and the file is removed."""
    digest, count = hashlib.sha256(), 0

    def pour(out: int) -> None:
        nonlocal count
        for chunk in chunks:
            digest.update(chunk)
            count += len(chunk)
            _write_all(out, chunk)

    _fill(path, pour)
    written = Proof(count, digest.hexdigest())
    _compare(path, written)
    return written


def copy_file(source: Path | str, path: Path | str) -> Proof:
    """Copy a file to a new name where it appears whole or not at all. The folder is not synced. Raises NameTaken."""
    part = part_beside(path)
    proof = copy_new(source, part)
    _move_or_drop(part, path)
    return proof


def copy_new(source: Path | str, path: Path | str) -> Proof:
    """Copy a file under its new name at once: for folders that nobody reads yet. The folder is not synced.

    Content and modification time are carried over, nothing else: modes are ours, links are broken. The copy is counted,
    synced, closed, read again and compared. Raises NameTaken.
    """
    with disk_step("could not read a file to copy it", source):
        inside = open_regular(source)
    try:
        before = os.fstat(inside)
        digest, count = hashlib.sha256(), 0

        def pour(out: int) -> None:
            nonlocal count
            while chunk := _read(inside, source):
                digest.update(chunk)
                count += len(chunk)
                _write_all(out, chunk)
            at = out if os.utime in os.supports_fd else path
            os.utime(at, ns=(before.st_mtime_ns, before.st_mtime_ns))

        _fill(path, pour)
        after = os.fstat(inside)
    finally:
        os.close(inside)
    wanted = Proof(count, digest.hexdigest())
    if (after.st_size, after.st_mtime_ns) != (before.st_size, before.st_mtime_ns) or count != after.st_size:
        _drop(path)
        raise TransientFault(
            "a file changed while it was copied",
            path=shown(source),
            expected=f"{before.st_size} bytes",
            came=f"{count} bytes read, {after.st_size} there now",
            done="the copy was removed; the source is untouched",
            help="wait until nothing writes to it; the gate tries again by itself",
        )
    _compare(path, wanted)
    return wanted


def move_new(source: Path | str, target: Path | str) -> None:
    """Move a file or folder onto a name that is free, on the same file system. Raises NameTaken; see the module text."""
    with disk_step("could not move", source):
        at_start = os.lstat(source)
        try:
            _rename_noreplace(source, target)
        except FileExistsError:
            raise _taken(target) from None
        except OSError as error:
            if _moved_after_all(at_start, target):
                return  # NFS may answer a resent request with an error although the first one was carried out
            if error.errno not in _NOT_OFFERED:
                raise
            if stat.S_ISDIR(at_start.st_mode):
                _move_folder_without_noreplace(source, target)
            else:
                _move_file_without_noreplace(source, target)


def rename_own(source: Path | str, part: Path | str) -> None:
    """Give a file a name of `part_beside`, which nothing has: so any file system does it in one step, and it stays the file."""
    with disk_step("could not rename a file to remove it", source):
        os.rename(source, part)


def remove_file(path: Path | str) -> None:
    """Remove one file. Its being gone already is fine."""
    with disk_step("could not remove a file", path), contextlib.suppress(FileNotFoundError):
        os.unlink(path)


def remove_folder(path: Path | str) -> bool:
    """Remove an empty folder; False when it is not empty. Its being gone already is fine."""
    with disk_step("could not remove a folder", path):
        try:
            os.rmdir(path)
        except FileNotFoundError:
            return True
        except OSError as error:
            if error.errno in (errno.ENOTEMPTY, errno.EEXIST):
                return False
            raise
    return True


def remove_copies(path: Path) -> None:
    """Remove a folder of ours with everything in it: only for staging and unpacked copies, never for originals.

    Links inside are removed, not followed.
    """
    with disk_step("could not list a folder of copies", path):
        if not path.is_dir() or path.is_symlink():
            return
        entries = sorted(path.iterdir())
    for entry in entries:
        if entry.is_dir() and not entry.is_symlink():
            remove_copies(entry)
        else:
            remove_file(entry)
    remove_folder(path)


def _fill(path: Path | str, pour: Callable[[int], None]) -> None:
    """Create `path` exclusively, let `pour` write to it, sync, close. What could not be finished is removed."""
    with disk_step("could not create a file", path):
        try:
            out = os.open(path, open_flags("O_WRONLY", "O_CREAT", "O_EXCL"), FILE_MODE)
        except FileExistsError:
            raise _taken(path) from None
    try:
        with disk_step("could not write a file", path):
            try:
                pour(out)
                os.fsync(out)
            finally:
                os.close(out)  # its error counts: NFS reports a full disk here
    except BaseException:
        _drop(path)
        raise


def _write_all(out: int, data: bytes) -> None:
    view = memoryview(data)
    while view:
        view = view[os.write(out, view) :]


def _read(descriptor: int, path: Path | str) -> bytes:
    with disk_step("could not read a file to copy it", path):
        return os.read(descriptor, CHUNK)


def _compare(path: Path | str, wanted: Proof) -> None:
    try:
        came = proof_of(path, from_disk=True)
    except OSError as error:
        _drop(path)
        raise fault_of(error, "could not read back what was written", path) from error
    if came != wanted:
        _drop(path)
        raise TransientFault(
            "what was written is not what is read back",
            path=shown(path),
            expected=f"{wanted.bytes} bytes, sha256 {wanted.sha256}",
            came=f"{came.bytes} bytes, sha256 {came.sha256}",
            done="the bad copy was removed; the source is untouched",
            help="look at the disk or share; the gate tries again by itself",
        )


def _drop(path: Path | str) -> None:
    try:
        os.unlink(path)
    except OSError:
        return  # the fault being raised tells more; recovery removes what is left


def part_beside(path: Path | str) -> str:
    """A name beside it that nothing has and everything of ours passes over: of a file that is not whole or proven yet."""
    return os.path.join(os.path.dirname(path), f"{PART}{secrets.token_hex(8)}")


def _move_or_drop(part: Path | str, target: Path | str) -> None:
    try:
        move_new(part, target)
    except BaseException:
        _drop(part)
        raise


def _taken(path: Path | str) -> NameTaken:
    return NameTaken("the name is taken", path=shown(path), done="nothing was replaced", help="choose another name")


@functools.cache
def _renameat2() -> Callable[..., int] | None:
    try:
        call = ctypes.CDLL(None, use_errno=True).renameat2
    except (OSError, AttributeError):
        return None  # another system, or a C library older than the call
    call.argtypes = (ctypes.c_int, ctypes.c_char_p, ctypes.c_int, ctypes.c_char_p, ctypes.c_uint)
    call.restype = ctypes.c_int
    return call


def _rename_noreplace(source: Path | str, target: Path | str) -> None:
    if os.name == "nt":
        os.rename(source, target)
        return
    call = _renameat2()
    if call is None:
        raise OSError(errno.ENOSYS, os.strerror(errno.ENOSYS))
    if call(_AT_FDCWD, os.fsencode(source), _AT_FDCWD, os.fsencode(target), _NOREPLACE) != 0:
        number = ctypes.get_errno()
        raise OSError(number, os.strerror(number), os.fspath(source))


def _moved_after_all(at_start: os.stat_result, target: Path | str) -> bool:
    try:
        there = os.lstat(target)
    except OSError:
        return False
    return (there.st_dev, there.st_ino) == (at_start.st_dev, at_start.st_ino) and at_start.st_nlink == there.st_nlink


def _move_folder_without_noreplace(source: Path | str, target: Path | str) -> None:
    try:
        os.mkdir(target, FOLDER_MODE)
    except FileExistsError:
        raise _taken(target) from None
    try:
        os.rename(source, target)
    except OSError as error:
        if error.errno in (errno.ENOTEMPTY, errno.EEXIST):
            raise _taken(target) from None
        os.rmdir(target)
        raise


def _move_file_without_noreplace(source: Path | str, target: Path | str) -> None:
    try:
        os.link(source, target, follow_symlinks=False)
    except FileExistsError:
        raise _taken(target) from None
    except OSError as error:
        if error.errno not in (errno.EPERM, *_NOT_OFFERED):
            raise fault_of(error, "could not move", source) from error
        copy_new(source, target)
    os.unlink(source)
