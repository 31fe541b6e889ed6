"""The ticket of a drop: which files are taken from where, written before the first of them moves."""

from __future__ import annotations

import hashlib
import json
import os
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from tidegate.errors import PermanentFault

from .durable import PART
from .faults import disk_step, shown
from .one_line_each import fields_of, one_line_each

SCHEMA = "tidegate-ticket-1"
DROP, ARCHIVE, SUPERSEDED = "drop", "archive", "superseded"
"""The three folders a claim may have: what is judged, an archive as it came, what mended files took the place of."""


@dataclass(frozen=True, slots=True)
class Move:
    """One file to take. source: absolute path. to: relative to the claimed folder of the ticket.

    bytes, mtime (ns), device, inode, links: as seen when the drop settled.
    """

    source: str
    to: str
    bytes: int
    mtime: int
    device: int
    inode: int
    links: int


@dataclass(frozen=True, slots=True)
class Ticket:
    """ticket: the id, also part of returned and aside folder names. kind: "folder", "loose" or "archive".

    home: what the drop was seen in, absolute: its folder, or the inbox. claimed_at: RFC 3339 in UTC, for people.
    left_behind: links and special files that stay in the inbox. completes: the returned prop's folder that is taken
    along, absolute, "" for none; it is moved aside in one step first, and its files' sources are there. near: why loose
    files stand alone, for the report.
    """

    ticket: str
    gate: str
    owner: str
    drop: str
    kind: str
    home: str
    claimed_at: str
    moves: tuple[Move, ...]
    left_behind: tuple[str, ...] = ()
    completes: str = ""
    near: str = ""

    @property
    def drop_folder(self) -> str:
        """Where the drop's files stand, relative to the claimed folder."""
        return f"{DROP}/{self.drop}"

    @property
    def taken(self) -> str:
        """Where the folder that it completes stands while its files are taken, absolute; "" for none.

        The sources of its files tell, so it holds when the gate has another name or another returned tree by now. The
        folder bears the ticket's own id, which no path had before.
        """
        inner = f"{os.sep}{self.ticket}"
        found = (move.source.partition(inner + os.sep) for move in self.moves if self.completes)
        return next((before + inner for before, id_, _ in found if id_), "")


def hidden(ticket: Ticket, move: Move) -> str:
    """The name, beside its own, that a source has while it is removed: that of a part, which no two tickets share."""
    told = hashlib.sha256(os.fsencode(f"{ticket.ticket}\0{move.source}")).hexdigest()[:16]
    return os.path.join(os.path.dirname(move.source), f"{PART}{told}")


def to_bytes(ticket: Ticket) -> bytes:
    moves = [fields_of(move) for move in ticket.moves]
    return one_line_each({"schema": SCHEMA, **fields_of(ticket), "moves": moves})


def read(path: Path) -> Ticket:
    """The ticket in a file. Raises PermanentFault when it is not one of ours, TransientFault where the disk will not give it."""
    with disk_step("could not read a ticket", path):
        data = path.read_bytes()
    try:
        return from_json(json.loads(data))
    except (ValueError, TypeError, KeyError, AttributeError) as error:
        raise PermanentFault(
            "a ticket cannot be read",
            path=shown(path),
            expected=SCHEMA,
            came=f"{type(error).__name__}: {error}",
            done="it was left where it is",
            help="its files lie under claimed/ beside it; recovery puts them aside",
        ) from error


def from_json(data: Any) -> Ticket:
    """Raises ValueError, TypeError, KeyError or AttributeError on anything that is not a ticket."""
    if data.pop("schema") != SCHEMA:
        raise ValueError("another schema")
    moves = tuple(Move(**move) for move in data["moves"])
    return Ticket(**{**data, "moves": moves, "left_behind": tuple(data["left_behind"])})
