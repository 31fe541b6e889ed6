"""The gate's own record in every folder it hands over: `handed.tidegate.json`.

It is what the ledger is rebuilt from, how a returned prop is found again, and who owns a delivered one.
"""

from __future__ import annotations

import json
import os
import stat
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from .faults import is_absent
from .one_line_each import fields_of, one_line_each

RECORD = "handed.tidegate.json"
SCHEMA = "tidegate-handed-1"
LARGEST = 64 << 20


@dataclass(frozen=True, slots=True)
class Handed:
    """files: (path, bytes, sha256) of what the artist dropped. sidecars: (path, sha256) of what we wrote.

    part: number of this prop in its drop, 1 first. tree: "delivery", "returned", "aside" or "kept".
    file_version: the version field of the file names. named: see `Outcome`. claimed_at, handed_at: RFC 3339, UTC.
    """

    ticket: str
    part: int
    gate: str
    owner: str
    drop: str
    prop: str
    verdict: str
    tree: str
    place: tuple[str, ...]
    file_version: str
    reason: str
    claimed_at: str
    handed_at: str
    files: tuple[tuple[str, int, str], ...]
    sidecars: tuple[tuple[str, str], ...]
    named: str = ""

    @property
    def content(self) -> tuple[tuple[str, str], ...]:
        """(path, sha256) of the artist's files, sorted: two versions with the same are the same."""
        return tuple(sorted((path, sha256) for path, _, sha256 in self.files))


def to_bytes(handed: Handed) -> bytes:
    return one_line_each(to_data(handed))


def to_data(handed: Handed) -> dict[str, Any]:
    return {"schema": SCHEMA, **fields_of(handed)}


def read(folder: Path, *, raising: bool = False) -> Handed | None:
    """The record in a folder, or None where there is none that can be read as ours.

    Artists write into returned folders, and anybody may put such a file into a drop: a record that names a path outside its
    folder is none of ours. raising: where there may be one and the disk will not give it, raise the OSError: what cannot
    be read is not absent.
    """
    try:
        path = os.path.join(folder, RECORD)
        there = os.lstat(path)
        if stat.S_ISLNK(there.st_mode) or there.st_size > LARGEST:
            return None
        record = from_json(json.loads(Path(path).read_bytes()))
        named = [path for path, _, _ in record.files] + [path for path, _ in record.sidecars]
        return record if all(map(_is_inside, named)) and _is_inside(record.drop) and "/" not in record.drop else None
    except OSError as error:
        if raising and not is_absent(error):
            raise
        return None
    except (ValueError, TypeError, KeyError, AttributeError, RecursionError):
        return None


def _is_inside(path: str) -> bool:
    """Whether a path, "/" between its parts, stays below the folder that it is relative to."""
    outside = set(path) & {"\0", *("\\:" if os.name == "nt" else "")}
    return not outside and not any(part in ("", ".", "..") for part in path.split("/"))


def from_json(data: Any) -> Handed:
    """Raises ValueError, TypeError, KeyError or AttributeError on anything else."""
    if data.pop("schema") != SCHEMA:
        raise ValueError("another schema")
    data.setdefault("named", "")  # records made before there was such a field
    texts = [name for name in Handed.__slots__ if name not in ("part", "place", "files", "sidecars")]
    if not all(isinstance(data[name], str) for name in texts) or not isinstance(data["part"], int):
        raise TypeError("a field has the wrong type")
    return Handed(
        **{
            **data,
            "place": tuple(str(part) for part in data["place"]),
            "files": tuple((str(path), int(size), str(sha256)) for path, size, sha256 in data["files"]),
            "sidecars": tuple((str(path), str(sha256)) for path, sha256 in data["sidecars"]),
        }
    )
