"""What claiming and giving back look at: a file of a ticket, and the folders of ours that have become empty."""

from __future__ import annotations

import os
import stat
from dataclasses import replace
from pathlib import Path

from . import durable
from .faults import disk_step, fault_of, is_absent
from .layout import Layout
from .proof import proof_of
from .scan import files_under
from .ticket import Move, Ticket


def looked_at(path: Path | str) -> os.stat_result | None:
    """None where there is no such file. What merely cannot be seen just now is not gone: that raises a GateFault."""
    try:
        return os.lstat(path)
    except OSError as error:
        if is_absent(error):
            return None
        raise fault_of(error, "could not look at a file of a drop", path) from error


def is_file(path: Path | str) -> bool:
    there = looked_at(path)
    return there is not None and stat.S_ISREG(there.st_mode)


def is_folder(path: Path) -> bool:
    with disk_step("could not look at a folder", path):
        return path.is_dir()


def is_as_seen(move: Move) -> bool:
    """Whether the file that settled still lies where it came from."""
    there = looked_at(move.source)
    return there is not None and (there.st_size, there.st_mtime_ns, there.st_ino, there.st_dev) == (
        move.bytes,
        move.mtime,
        move.inode,
        move.device,
    )


def same(first: Path | str, second: Path | str) -> bool:
    with disk_step("could not read a file to compare it", first):
        return proof_of(first) == proof_of(second)


def taken_folder(taken: Ticket, layout: Layout) -> Path:
    """Where the folder that a ticket completes stands meanwhile, whatever the configuration has become since."""
    return Path(taken.taken) if taken.taken else layout.taken(taken.ticket)


def require_returned(taken: Ticket, layout: Layout) -> None:
    """A folder that was taken along is not gone because its tree is: without the ticket nobody would ever find it."""
    if taken.completes:
        away = taken_folder(taken, layout)
        tree = away.parents[2]
        with disk_step("could not look at a tree of the gate", tree):
            Layout(replace(layout.paths, name=away.parent.name)).require(tree)


def remove_parts(home: Path) -> None:
    """Remove copies into the claim that were cut short: each one's source is still there."""
    for path in files_under(home):
        if os.path.basename(path).startswith(durable.PART):
            durable.remove_file(os.path.join(home, path))


def remove_empty(folder: Path | str) -> None:
    """Remove a folder if nothing but empty folders is in it; what holds something stays."""
    if not os.path.isdir(folder) or os.path.islink(folder):
        return
    with disk_step("could not list a folder", folder), os.scandir(folder) as entries:
        inner = sorted(entry.path for entry in entries if entry.is_dir(follow_symlinks=False))
    for path in inner:
        remove_empty(path)
    durable.remove_folder(folder)
