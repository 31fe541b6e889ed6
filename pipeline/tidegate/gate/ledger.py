"""The ledger: a SQLite file for people and speed. What is on disk is the state; losing the ledger loses no asset.

    handed     one row a prop handed over
        ticket TEXT, part INTEGER      primary key: the drop's ticket and the number of the prop in it
        gate, owner, drop_name, prop, verdict, tree, place ("/" between parts), file_version, reason  TEXT
        path TEXT                      folder it stands in
        version INTEGER                our v001 as 1; 0 outside the delivery tree
        same INTEGER                   1: the version was there already and nothing new was made
        files INTEGER, bytes INTEGER   of the artist's files
        claimed_at, handed_at TEXT     RFC 3339, UTC
    waiting    one row a drop that is held up or still arrives; rewritten by the daemon, of no other use
        key TEXT primary key (ticket, or drop name), reason, heals TEXT, tries INTEGER, next_try TEXT, since TEXT
        tries 0 with a next_try: it settles by then at the latest, by time alone; without: it waits for somebody

WAL mode, synchronous NORMAL. Rows of `same = 1` are the only thing a rebuild cannot bring back: nothing was made.
SQLite writes this file itself; it is the one thing here that does not go through `durable`.
"""

from __future__ import annotations

import contextlib
import glob
import os
import sqlite3
import threading
from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass, field
from pathlib import Path

from tidegate.errors import TransientFault

from . import durable, handed
from .faults import shown
from .handed import Handed
from .identity import VERSION
from .publish import Delivered

SCHEMA_VERSION = 1
_TABLES = """
CREATE TABLE IF NOT EXISTS handed (
    ticket TEXT NOT NULL, part INTEGER NOT NULL, gate TEXT NOT NULL, owner TEXT NOT NULL, drop_name TEXT NOT NULL,
    prop TEXT NOT NULL, verdict TEXT NOT NULL, tree TEXT NOT NULL, place TEXT NOT NULL, file_version TEXT NOT NULL,
    reason TEXT NOT NULL, path TEXT NOT NULL, version INTEGER NOT NULL, same INTEGER NOT NULL, files INTEGER NOT NULL,
    bytes INTEGER NOT NULL, claimed_at TEXT NOT NULL, handed_at TEXT NOT NULL, PRIMARY KEY (ticket, part)
);
CREATE INDEX IF NOT EXISTS handed_by_prop ON handed (prop, handed_at);
CREATE TABLE IF NOT EXISTS waiting (
    key TEXT PRIMARY KEY, reason TEXT NOT NULL, heals TEXT NOT NULL, tries INTEGER NOT NULL, next_try TEXT NOT NULL,
    since TEXT NOT NULL
);
"""


@dataclass(frozen=True, slots=True)
class Row:
    """One row of `handed`, as documented above. Texts are printable: odd bytes of names are escaped."""

    ticket: str
    part: int
    gate: str
    owner: str
    drop_name: str
    prop: str
    verdict: str
    tree: str
    place: str
    file_version: str
    reason: str
    path: str
    version: int
    same: int
    files: int
    bytes: int
    claimed_at: str
    handed_at: str


@dataclass(frozen=True, slots=True)
class WaitingRow:
    """One row of `waiting`."""

    key: str
    reason: str
    heals: str
    tries: int
    next_try: str
    since: str

    @property
    def arrives(self) -> bool:
        """It goes on by time alone; nobody needs to do anything."""
        return self.tries == 0 and bool(self.next_try)


def row_of(record: Handed, at: Path, version: int, same: bool) -> Row:
    return Row(
        record.ticket,
        record.part,
        record.gate,
        shown(record.owner),
        shown(record.drop),
        shown(record.prop),
        record.verdict,
        record.tree,
        shown("/".join(record.place)),
        shown(record.file_version),
        shown(record.reason),
        shown(at),
        version,
        int(same),
        len(record.files),
        sum(size for _, size, _ in record.files),
        record.claimed_at,
        record.handed_at,
    )


@dataclass(slots=True)
class Ledger:
    """One gate's ledger, for any thread. Made on first use. Raises TransientFault where SQLite cannot do its work."""

    path: Path
    _connection: sqlite3.Connection | None = None
    _file: tuple[int, int] = (0, 0)
    _turn: threading.RLock = field(default_factory=threading.RLock)

    def close(self) -> None:
        """Let go of the file. Using the ledger again opens it again."""
        if self._connection is not None:
            self._connection.close()
            self._connection = None

    def enter(self, delivered: Sequence[Delivered]) -> None:
        """Write a row for each; entering the same again changes nothing."""
        rows = [row_of(each.record, each.at, each.version, each.same) for each in delivered]
        with self._open() as connection:
            connection.executemany(_insert(Row, "handed"), [_values(row) for row in rows])

    def waiting(self, rows: Sequence[WaitingRow]) -> None:
        """Replace all that is held up."""
        with self._open() as connection:
            connection.execute("DELETE FROM waiting")
            connection.executemany(_insert(WaitingRow, "waiting"), [_values(row) for row in rows])

    def history(self, prop: str = "", limit: int = 1000) -> list[Row]:
        """Rows of a prop, or of all, oldest first; the newest `limit` of them."""
        where, values = ("WHERE prop = ?", [shown(prop)]) if prop else ("", [])
        with self._open() as connection:
            # The text is put together from constants alone; values travel as parameters.
            found = connection.execute(
                f"SELECT * FROM handed {where} ORDER BY handed_at DESC, ticket DESC, part DESC LIMIT ?",  # noqa: S608
                [*values, limit],
            ).fetchall()
        return [Row(*each) for each in reversed(found)]

    def held_up(self) -> list[WaitingRow]:
        with self._open() as connection:
            return [WaitingRow(*each) for each in connection.execute("SELECT * FROM waiting ORDER BY key")]

    def newest_ticket(self) -> str:
        """The highest ticket id of all rows, "" for none."""
        with self._open() as connection:
            return str(connection.execute("SELECT COALESCE(MAX(ticket), '') FROM handed").fetchone()[0])

    def counts(self) -> dict[str, int]:
        """Props by verdict."""
        with self._open() as connection:
            return dict(
                connection.execute("SELECT verdict, COUNT(*) FROM handed GROUP BY verdict ORDER BY verdict").fetchall()
            )

    def rebuild(self, trees: Sequence[Path], others: Collection[str] = ()) -> int:
        """Forget everything and read the records in the trees. Gives the number of rows.

        others: gates that may share a tree; what they handed over stands in their own ledgers.
        """
        self._put_away()
        rows = [row for tree in trees for row in rows_in(tree) if row.gate not in others]
        with self._open() as connection:
            connection.executemany(_insert(Row, "handed"), [_values(row) for row in rows])
        return len(rows)

    def _put_away(self) -> None:
        """A ledger that is rebuilt keeps its old file beside it: nothing is thrown away."""
        self.close()
        if self.path.exists():
            self._put_beside(self._free_number(), ("", "-wal", "-shm"))

    def _free_number(self) -> int:
        """The next of the old ledgers."""
        number = 1
        while list(self.path.parent.glob(f"{glob.escape(self.path.name)}.old-{number}*")):
            number += 1
        return number

    def _put_beside(self, number: int, endings: Sequence[str]) -> None:
        for ending in endings:
            beside = self.path.with_name(self.path.name + ending)
            if beside.exists():
                durable.move_new(beside, self.path.with_name(f"{self.path.name}.old-{number}{ending}"))

    @contextlib.contextmanager
    def _open(self) -> Iterator[sqlite3.Connection]:
        with self._turn:
            yield from self._opened()

    def _opened(self) -> Iterator[sqlite3.Connection]:
        try:
            if self._connection is not None and _file_at(self.path) != self._file:
                # Removed or replaced meanwhile. What is written to a file without a name is lost, and the log that SQLite
                # leaves of such a file would be taken for that of the next one.
                self.close()
                self._put_beside(self._free_number(), ("-wal", "-shm"))
            if self._connection is None:
                self._connection = _connected(self.path)
                self._file = _file_at(self.path)
            with self._connection:
                yield self._connection
        except sqlite3.Error as error:
            with contextlib.suppress(sqlite3.Error):
                self.close()
            self._connection = None
            raise TransientFault(
                "the ledger cannot be used",
                path=shown(self.path),
                came=f"{type(error).__name__}: {error}",
                done="no asset depends on it; the gate goes on without",
                help="rebuild it from the trees",
            ) from error


def _file_at(path: Path) -> tuple[int, int]:
    """Device and inode, (0, 0) where there is nothing."""
    try:
        there = os.stat(path)
    except OSError:
        return (0, 0)
    return (there.st_dev, there.st_ino)


def _connected(path: Path) -> sqlite3.Connection:
    connection = sqlite3.connect(path, timeout=10.0, check_same_thread=False)
    try:
        connection.execute("PRAGMA journal_mode = WAL")
        connection.execute("PRAGMA synchronous = NORMAL")
        if connection.execute("PRAGMA user_version").fetchone()[0] != SCHEMA_VERSION:
            connection.executescript(_TABLES)
            connection.execute(f"PRAGMA user_version = {SCHEMA_VERSION}")
    except BaseException:
        connection.close()
        raise
    return connection


def rows_in(tree: Path) -> list[Row]:
    """A row for every folder under a tree that carries our record, by path. Staging is left out."""
    rows = []
    for folder, inner, names in os.walk(tree):
        inner[:] = sorted(name for name in inner if not name.startswith(".tidegate-"))
        if handed.RECORD in names:
            at = Path(folder)
            if record := handed.read(at):
                match = VERSION.fullmatch(at.name) if record.tree == "delivery" else None
                rows.append(row_of(record, at, int(match[1]) if match else 0, False))
            inner[:] = []
    return rows


def _insert(kind: type, table: str) -> str:
    # Both kinds are slotted records, which `type` does not tell; names and table are constants of this file.
    names = list(kind.__slots__)  # type: ignore[attr-defined]
    return f"INSERT OR REPLACE INTO {table} ({', '.join(names)}) VALUES ({', '.join('?' * len(names))})"  # noqa: S608


def _values(row: Row | WaitingRow) -> list[object]:
    return [getattr(row, name) for name in row.__slots__]
