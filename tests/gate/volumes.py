"""File systems of our own in memory, to fill, to take away and to make read-only: root alone may mount."""

from __future__ import annotations

import ctypes
import functools
import os
import subprocess
import tempfile
from pathlib import Path

_CLONE_NEWNS = 0x20000


def mount(path: Path, size: str = "64m") -> None:
    """A new, empty file system of that size on an existing folder."""
    _run("mount", "-t", "tmpfs", "-o", f"size={size},mode=755,nr_inodes=0", "none", str(path))


def unmount(path: Path) -> None:
    """Take it away at once, whoever still uses it; what is in it is gone with the last handle."""
    subprocess.run(["umount", "-l", str(path)], capture_output=True, check=False)


def read_only(path: Path, yes: bool) -> None:
    _run("mount", "-o", f"remount,{'ro' if yes else 'rw'}", str(path))


def fill(path: Path, yes: bool, size: str = "64m") -> None:
    """Make it as small as what is in it, or as large as it was.

    Never smaller than a block: size 0 means no limit (tmpfs(5)), and none can be set after that.
    """
    status = os.statvfs(path)
    used = max(1, status.f_blocks - status.f_bfree) * status.f_frsize
    _run("mount", "-o", f"remount,size={used if yes else size}", str(path))


def move(source: Path, target: Path) -> None:
    """Mount it elsewhere, with all that is in it: the folder at `source` is bare again."""
    _run("mount", "--move", str(source), str(target))


@functools.cache
def why_not() -> str:
    """Why nothing can be mounted here, "" when it can."""
    if not hasattr(os, "geteuid") or os.geteuid() != 0:
        return "only root may mount a file system"
    folder = Path(tempfile.mkdtemp(prefix="tidegate-mount-"))
    try:
        mount(folder, "64k")
        unmount(folder)
    except (OSError, subprocess.CalledProcessError) as error:
        return f"mounting is forbidden here: {error}"
    finally:
        folder.rmdir()
    return ""


def keep_to_ourselves() -> None:
    """From here on mounts of this process and its children are seen by them alone, and go when they end.

    Call it before any thread is started.
    """
    if not why_not() and ctypes.CDLL(None, use_errno=True).unshare(_CLONE_NEWNS) == 0:
        _run("mount", "--make-rprivate", "/")


def _run(*command: str) -> None:
    subprocess.run(command, check=True, capture_output=True)
