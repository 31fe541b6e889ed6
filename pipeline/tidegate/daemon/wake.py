"""What wakes the loop. Events are hints: they only say that a look is due, and a look at intervals comes anyway.

Native events do not tell of changes that other machines make on a network share (inotify(7)), and get lost when a queue
runs over; a poll or the interval finds those.
"""

from __future__ import annotations

import contextlib
from collections.abc import Sequence
from multiprocessing import Pipe, connection
from pathlib import Path
from typing import Any, Protocol

NETWORK = frozenset(
    {
        "nfs",
        "nfs4",
        "cifs",
        "smb3",
        "smbfs",
        "9p",
        "afs",
        "ceph",
        "glusterfs",
        "fuse.glusterfs",
        "lustre",
        "gpfs",
        "beegfs",
        "ncpfs",
        "davfs",
        "fuse.davfs2",
        "fuse.sshfs",
        "fuse.rclone",
        "fuse.s3fs",
        "vboxsf",
        "fuse.vmhgfs-fuse",
        "fuse",
        "prl_fs",
        "drvfs",
        "ocfs2",
        "gfs2",
        "acfs",
        "coda",
    }
)
"""File systems that other machines may change unseen, as /proc/mounts names them (from memory; `fuse` alone may be anything)."""


_LOOK, _JUST_WAKE = b"!", b"."


class Wake(Protocol):
    """Lets the loop sleep."""

    def wait(self, seconds: float | None, others: Sequence[Any]) -> bool:
        """Sleep until poked, one of `others` (connections) has something, or the time is over.

        True when one of the pokes wanted a look at the inboxes.
        """
        ...

    def poke(self, *, look: bool = True) -> None:
        """Wake the sleeper; from any thread or signal handler."""
        ...


class PipeWake:
    """The real one: a pipe to itself, of the kind that can be waited for on every system. Many pokes are one.

    A poke that finds its like already sent relies on that one. It was read just now, and then its sender's news is seen
    when `wait` returns, or it is still to be read. What was sent is therefore forgotten after reading: forgotten before, a
    poke in between would be read and yet count as sent for ever.
    """

    def __init__(self) -> None:
        self._out, self._in = Pipe(duplex=False)
        self._sent = [False, False]

    def wait(self, seconds: float | None, others: Sequence[Any]) -> bool:
        if self._out not in connection.wait([self._out, *others], seconds):
            return False
        look = False
        while self._out.poll():
            look |= self._out.recv_bytes() == _LOOK
        self._sent = [False, False]
        return look

    def poke(self, *, look: bool = True) -> None:
        sent = self._sent
        if not sent[look]:
            sent[look] = True
            with contextlib.suppress(OSError):  # closed: nobody sleeps any more
                self._in.send_bytes(_LOOK if look else _JUST_WAKE)

    def close(self) -> None:
        self._out.close()
        self._in.close()


class Watch:
    """Native events of some folders, each poking the wake. A folder that cannot be watched is left to the interval."""

    def __init__(self, wake: Wake) -> None:
        self._wake = wake
        self._observer: Any = None
        self._handler: Any = None
        self._watched: dict[Path, Any] = {}

    def follow(self, folder: Path) -> str:
        """Watch a folder, anew when it was watched before: one that came back is another folder. "", or why not."""
        self.forget(folder)
        observer = self._started()
        try:
            self._watched[folder] = observer.schedule(self._handler, str(folder), recursive=True)
        except OSError as error:
            return str(error)
        return ""

    def forget(self, folder: Path) -> None:
        watched = self._watched.pop(folder, None)
        if watched is not None:
            with contextlib.suppress(KeyError, OSError):  # the folder went, and the system's watch with it
                self._observer.unschedule(watched)

    def close(self) -> None:
        if self._observer is not None:
            self._observer.stop()
            self._observer.join(5)
            self._observer = None
        self._watched.clear()

    def _started(self) -> Any:
        """The observer's thread: only once a folder wants it, and before any, so that each is then told of alone."""
        if self._observer is None:
            import logging

            from watchdog.events import FileSystemEvent, FileSystemEventHandler
            from watchdog.observers import Observer

            wake = self._wake

            class Poke(FileSystemEventHandler):
                def on_any_event(self, event: FileSystemEvent) -> None:
                    if event.event_type not in ("opened", "closed_no_write"):  # our own looks are no news
                        wake.poke()

            words = logging.getLogger(
                "watchdog"
            )  # it would break our lines, and says nothing that anybody could act on
            words.addHandler(logging.NullHandler())
            words.propagate = False
            self._handler = Poke()
            self._observer = Observer()
            self._observer.start()
        return self._observer


def file_system_of(path: Path, mounts: str | None = None) -> str:
    """Type of the file system a folder is on, "" where the system does not tell. mounts: text of /proc/self/mounts."""
    if mounts is None:
        try:
            mounts = Path("/proc/self/mounts").read_text("utf-8", "surrogateescape")
        except OSError:
            return ""
    best, kind = "", ""
    for line in mounts.splitlines():
        fields = line.split(" ")
        if len(fields) < 3:
            continue
        point = _unescaped(fields[1])
        if (path == Path(point) or path.is_relative_to(point)) and len(point) >= len(best):
            best, kind = point, fields[2]  # of two mounts on one point, the later hides the earlier
    return kind


def has_native_events(path: Path, mounts: str | None = None) -> bool:
    """Whether every change in a folder is told by this machine's events: False on network file systems."""
    return file_system_of(path, mounts) not in NETWORK


def _unescaped(text: str) -> str:
    """A mount point as /proc/mounts writes it: space, tab, line feed and backslash in octal."""
    for octal, plain in (("\\040", " "), ("\\011", "\t"), ("\\012", "\n"), ("\\134", "\\")):
        text = text.replace(octal, plain)
    return text
