"""Turns the system's error numbers into our two kinds: what heals by waiting, and what does not."""

from __future__ import annotations

import errno
import os
from pathlib import Path
from types import TracebackType

from tidegate.errors import GateFault, PermanentFault, TransientFault
from tidegate.model.printable import printable

HEALS: dict[int, str] = {
    errno.ENOSPC: "make room on that disk; the gate tries again by itself",
    errno.EDQUOT: "raise the quota or make room; the gate tries again by itself",
    errno.EIO: "look at the disk or share; the gate tries again by itself",
    errno.ESTALE: "the share was exported anew; the gate tries again by itself",
    errno.ENETDOWN: "bring the network back; the gate tries again by itself",
    errno.ENETUNREACH: "bring the network back; the gate tries again by itself",
    errno.EHOSTDOWN: "bring the file server back; the gate tries again by itself",
    errno.EHOSTUNREACH: "bring the file server back; the gate tries again by itself",
    errno.ETIMEDOUT: "bring the file server back; the gate tries again by itself",
    errno.ENOTCONN: "mount the share again; the gate tries again by itself",
    errno.EROFS: "mount it writable again; the gate tries again by itself",
    errno.EBUSY: "let go of the file; the gate tries again by itself",
    errno.EAGAIN: "the gate tries again by itself",
    errno.EINTR: "the gate tries again by itself",
    errno.EMFILE: "raise the limit of open files; the gate tries again by itself",
    errno.ENFILE: "raise the limit of open files; the gate tries again by itself",
    errno.ENOMEM: "free some memory; the gate tries again by itself",
    errno.ENODEV: "mount it again; the gate tries again by itself",
    errno.ENXIO: "mount it again; the gate tries again by itself",
    errno.ENOENT: "bring the folder back or mount it; the gate tries again by itself",
    # Permission is given back by a person, not by the drop: the drop is not to blame and waits.
    errno.EACCES: "give the gate's user permission there; the gate tries again by itself",
    errno.EPERM: "give the gate's user permission there; the gate tries again by itself",
}


class NameTaken(PermanentFault):
    """The name something should move onto is already there. Nothing was replaced."""


class Changed(TransientFault):
    """A drop changed while it was being claimed or handed over. It went back to settling."""


def fault_of(error: OSError, what: str, path: Path | str, *, done: str = "") -> GateFault:
    """The fault for a system error while doing `what` (a sentence without full stop) to `path`."""
    number = error.errno or 0
    came = f"{errno.errorcode.get(number, 'unknown error')}: {os.strerror(number) if number else error}"
    done = done or "nothing was lost; the drop stays where it was"
    if number in HEALS:
        return TransientFault(what, path=shown(path), came=came, done=done, help=HEALS[number])
    return PermanentFault(what, path=shown(path), came=came, done=done, help="this will not heal by waiting")


def is_absent(error: OSError) -> bool:
    """Whether the error says that there is no such file, and not merely that it could not be reached."""
    return error.errno in (errno.ENOENT, errno.ENOTDIR)


class disk_step:  # noqa: N801  reads as a statement: `with disk_step(...)`
    """Any OSError inside becomes a GateFault that says `what` could not be done to `path`.

    A class, since a generator costs several times as much and a small drop takes a hundred steps.
    """

    __slots__ = ("path", "what")

    def __init__(self, what: str, path: Path | str) -> None:
        self.what, self.path = what, path

    def __enter__(self) -> None:
        return None

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        if isinstance(error, OSError):
            raise fault_of(error, self.what, self.path) from error


def shown(path: Path | str) -> str:
    """A path as printable text: bytes that are not UTF-8 and control characters are escaped, so no log line breaks."""
    return printable(os.fspath(path))
