"""The handing note: everything of a drop is staged and proven, only moves and removals are left.

Once the note is durable the drop is not judged again: a crash after it is finished from the note alone.
"""

from __future__ import annotations

import json
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from tidegate.errors import PermanentFault

from . import handed
from .faults import disk_step, shown
from .handed import Handed
from .one_line_each import fields_of, one_line_each

SCHEMA = "tidegate-handing-1"


@dataclass(frozen=True, slots=True)
class Entry:
    """One staged folder. staging: where it stands. tree: the tree's root. folder: where it goes.

    name: its name there, "" for the next free version number. manifest: sha256 of its manifest.
    same_as: an existing version with the same content, "" for none; then nothing is staged and nothing is moved.
    """

    staging: str
    tree: str
    folder: str
    name: str
    manifest: str
    record: Handed
    same_as: str = ""


@dataclass(frozen=True, slots=True)
class Note:
    """claimed: files to let go of once all entries stand, relative to the claimed folder."""

    ticket: str
    entries: tuple[Entry, ...]
    claimed: tuple[str, ...]


def to_bytes(note: Note) -> bytes:
    entries = [{**fields_of(entry), "record": handed.to_data(entry.record)} for entry in note.entries]
    return one_line_each({"schema": SCHEMA, **fields_of(note), "entries": entries})


def read(path: Path) -> Note:
    """Raises PermanentFault when the file is not one of ours, TransientFault where the disk will not give it."""
    with disk_step("could not read a handing note", path):
        data = path.read_bytes()
    try:
        return _from_json(json.loads(data))
    except (ValueError, TypeError, KeyError, AttributeError) as error:
        raise PermanentFault(
            "a handing note cannot be read",
            path=shown(path),
            expected=SCHEMA,
            came=f"{type(error).__name__}: {error}",
            done="it was left where it is",
            help="keep it for inspection, then remove it: the drop is judged anew from its claim",
        ) from error


def _from_json(data: Any) -> Note:
    if data["schema"] != SCHEMA:
        raise ValueError("another schema")
    entries = tuple(Entry(**{**entry, "record": handed.from_json(entry["record"])}) for entry in data["entries"])
    return Note(data["ticket"], entries, tuple(data["claimed"]))
