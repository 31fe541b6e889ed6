"""COMMIT 2: staged folders are moved onto free names, proven there, and only then is the claim let go.

`publish` may be repeated after a crash at any place: a staging folder that is still there was not moved yet, one that
is gone was.
"""

from __future__ import annotations

import hashlib
import os
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path

from tidegate.errors import PermanentFault

from . import claim, durable, handed
from .faults import NameTaken, disk_step, shown
from .handed import Handed
from .handing import Entry, Note
from .identity import is_overtaken, versions_in
from .layout import Layout
from .manifest import MANIFEST, faults_in, read_manifest


@dataclass(frozen=True, slots=True)
class Delivered:
    """One prop in its place. at: its folder. version: 0 outside the delivery tree. same: it was there already, unchanged."""

    record: Handed
    at: Path
    version: int
    same: bool


def publish(note: Note, layout: Layout, enter: Callable[[tuple[Delivered, ...]], None]) -> tuple[Delivered, ...]:
    """Finish a handing note. enter: writes the ledger rows; called when all is proven, before the note is removed."""
    delivered = tuple(_place(entry, layout) for entry in note.entries)
    home = layout.claimed_folder(note.ticket)
    claim.let_go(note.claimed, home)
    durable.remove_copies(layout.unpacked / note.ticket)
    durable.remove_file(layout.ticket_file(note.ticket))
    if home.is_dir():
        durable.sync_folder(home)
    durable.sync_folder(layout.claimed)
    durable.sync_folder(layout.tickets)
    enter(delivered)
    # Not synced: a note that a power cut brings back finds everything in place and is removed again.
    durable.remove_file(layout.handing_file(note.ticket))
    return delivered


def is_in_place(entry: Entry, layout: Layout) -> bool:
    """Whether an entry needs no move any more and every byte of it is proven. Raises GateFault where it cannot be read."""
    layout.require(Path(entry.tree))
    with disk_step("could not read what was handed over", entry.same_as or entry.folder):
        if entry.same_as:
            return not faults_in(Path(entry.same_as), raising=True)
        if Path(entry.staging).is_dir():
            return False
        try:
            at = _find(entry, Path(entry.folder))
        except PermanentFault:
            return False
        return not faults_in(at, entry.manifest, raising=True)


def _place(entry: Entry, layout: Layout) -> Delivered:
    if entry.same_as:
        at = Path(entry.same_as)
        return Delivered(entry.record, at, _number(at), True)
    staging, folder = Path(entry.staging), Path(entry.folder)
    layout.require(Path(entry.tree))
    if staging.is_dir():
        _refuse_overtaken(entry, folder)
        durable.make_folders(folder, below=entry.tree)
        at = _move_to_free(staging, folder, entry)
        durable.sync_folder(folder)
        durable.sync_folder(staging.parent)
        _prove(at, entry)
    else:
        try:
            at = _find(entry, folder)
        except PermanentFault:
            layout.require(Path(entry.tree))  # or is it only out of reach since it was looked at above?
            raise
        durable.sync_folder(folder)
        _prove_whole(at, entry)
    return Delivered(entry.record, at, _number(at) if not entry.name else 0, False)


def _refuse_overtaken(entry: Entry, folder: Path) -> None:
    """A version that waited here, all staged, while a drop claimed later was delivered must not come after that."""
    if entry.name:
        return
    with disk_step("could not read what was delivered before", folder):
        records = [handed.read(version, raising=True) for _, version in versions_in(folder)[-1:]]
    for newest in records:
        if newest and is_overtaken(newest, entry.record.ticket, entry.record.gate):
            raise PermanentFault(
                "a newer version was delivered meanwhile",
                path=shown(folder),
                expected="none that was claimed later",
                came=f"one of ticket {newest.ticket}",
                done="the drop goes aside, so that the older work does not count as the newest",
                help="nothing is needed if the newer version holds this change; else drop it again",
            )


def _move_to_free(staging: Path, folder: Path, entry: Entry) -> Path:
    for name in _names(entry, folder):
        try:
            durable.move_new(staging, folder / name)
        except NameTaken:
            continue
        return folder / name
    raise PermanentFault("no free name left", path=shown(folder), done="it stays staged", help="tidy that folder")


def _names(entry: Entry, folder: Path) -> Iterator[str]:
    if entry.name:
        yield entry.name
        yield from (f"{entry.name}-{number}" for number in range(2, 1000))
    else:
        newest = max((number for number, _ in versions_in(folder)), default=0)
        yield from (f"v{number:03d}" for number in range(newest + 1, newest + 1000))


def _find(entry: Entry, folder: Path) -> Path:
    """Where an earlier try has moved this entry."""
    with disk_step("could not read what was handed over", folder):
        try:
            names = sorted((path for path in folder.iterdir() if path.name.startswith(entry.name or "v")), reverse=True)
        except (FileNotFoundError, NotADirectoryError):
            names = []
        for path in names:
            record = handed.read(path, raising=True)
            if record and (record.ticket, record.part) == (entry.record.ticket, entry.record.part):
                return path
    raise PermanentFault(
        "a folder that was handed over is gone",
        path=shown(folder),
        expected=f"{entry.record.prop} of ticket {entry.record.ticket}",
        came="neither staged nor in place",
        done="what is left of the claim stays",
        help="look who moved it; recovery puts what is left of the claim aside",
    )


def _prove(at: Path, entry: Entry) -> None:
    """The files were read back when they were staged and the folder moved in one step: the manifest and sizes suffice."""
    with disk_step("could not read a folder just handed over", at):
        data = (at / MANIFEST).read_bytes()
        sizes = {path: os.lstat(os.path.join(at, path)).st_size for path, _ in read_manifest(data)}
    wrong = [path for path, size, _ in entry.record.files if sizes.get(path) != size]
    if hashlib.sha256(data).hexdigest() != entry.manifest or wrong:
        raise _not_proven(at, wrong or [MANIFEST])


def _prove_whole(at: Path, entry: Entry) -> None:
    """After a crash every byte is read again before the claim goes."""
    with disk_step("could not read a folder that was handed over", at):
        faults = faults_in(at, entry.manifest, raising=True)
    if faults:
        raise _not_proven(at, faults)


def _not_proven(at: Path, faults: list[str]) -> PermanentFault:
    return PermanentFault(
        "what was handed over is not what was staged",
        path=shown(at),
        expected="the files of its manifest",
        came="; ".join(shown(fault) for fault in faults[:5]),
        done="the claimed files stay; nothing was removed",
        help="look who wrote into that folder; recovery puts the claimed files aside",
    )


def _number(at: Path) -> int:
    return int(at.name[1:]) if at.name[1:].isdigit() else 0
