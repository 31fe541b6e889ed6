"""Claims in a work folder that no gate serves any more: its gate has another work folder by now, or is configured no more.

Nothing in the new configuration tells of the old folder, so each gate leaves a note of its work folder beside its staging
folder in the delivery tree: <delivery>/.tidegate-staging/<gate>.work. A note that names another folder is replaced only
when nothing is claimed there.
"""

from __future__ import annotations

import os
from collections.abc import Collection
from dataclasses import dataclass
from pathlib import Path

from . import durable
from .faults import NameTaken, disk_step, shown
from .layout import STAGING, Layout
from .lock import holder

SUFFIX = ".work"  # no gate's name has a dot


@dataclass(frozen=True, slots=True)
class LeftClaims:
    """gate: as it was called. drops: how many are claimed there."""

    gate: str
    work: Path
    drops: int

    @property
    def what(self) -> str:
        count = "1 drop lies" if self.drops == 1 else f"{self.drops} drops lie"
        return f"{count} claimed in {shown(self.work)}, where gate {self.gate} had its work folder; no gate has it now"

    @property
    def heals(self) -> str:
        return (
            f"give gate {self.gate} that work folder again, and its inbox, until `tidegate status` shows nothing in hand; "
            "then change the configuration"
        )


def keep_note(layout: Layout) -> None:
    """Note which work folder serves the gate, unless the note still tells of claims in another."""
    note = _note(layout)
    with disk_step("could not read a note of a work folder", note):
        there = _work_in(note)
        if there == layout.paths.work or (there is not None and _claimed_in(there)):
            return
    durable.remove_file(note)
    try:
        durable.write_new(note, os.fsencode(layout.paths.work) + b"\n")
    except NameTaken:
        return  # another process wrote it at the same moment
    durable.sync_folder(note.parent)


def left_claims(delivery: Path, served: Collection[Path]) -> tuple[LeftClaims, ...]:
    """By the notes in a delivery tree. served: the work folders of all gates; one that any process serves is none.

    Raises GateFault where a note or a noted folder cannot be read.
    """
    found = []
    with disk_step("could not look for claims that no gate serves", delivery):
        for note in sorted((delivery / STAGING).glob(f"*{SUFFIX}")):
            work = _work_in(note)
            if work is not None and work not in served and (drops := _claimed_in(work)) and not holder(work / "lock"):
                found.append(LeftClaims(note.stem, work, drops))
    return tuple(found)


def _note(layout: Layout) -> Path:
    return layout.paths.delivery / STAGING / f"{layout.paths.name}{SUFFIX}"


def _work_in(note: Path) -> Path | None:
    """None where there is no note, or a crash cut its writing short."""
    try:
        data = note.read_bytes()
    except FileNotFoundError:
        return None
    return Path(os.fsdecode(data[:-1])) if data.endswith(b"\n") and data.count(b"\n") == 1 else None


def _claimed_in(work: Path) -> int:
    """How many drops are claimed or half handed over in a work folder; 0 where it is not there."""
    names = {
        path.stem for folder in ("tickets", "handing") for path in _entries(work / folder) if path.suffix == ".json"
    }
    names |= {path.name for path in _entries(work / "claimed") if path.is_dir() and _entries(path)}
    return len(names)


def _entries(folder: Path) -> list[Path]:
    try:
        return list(folder.iterdir())
    except (FileNotFoundError, NotADirectoryError):
        return []
