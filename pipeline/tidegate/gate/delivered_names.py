"""Which props a delivery tree holds by now, wherever in it they lie, and their newest version."""

from __future__ import annotations

import os
from dataclasses import dataclass, field
from pathlib import Path

from . import handed
from .faults import disk_step
from .handed import Handed
from .identity import VERSION, versions_in
from .names import same_to_some

_OF_THE_SYSTEM = frozenset({"lost+found", "$RECYCLE.BIN", "System Volume Information"})


@dataclass(slots=True)
class DeliveredProps:
    """A delivery tree. A folder with versions in it is a prop and stays one, so it is listed once and not again."""

    tree: Path
    _props: set[str] = field(default_factory=set)

    def folders(self) -> dict[str, list[Path]]:
        """Name of each prop, as `same_to_some` gives it -> its folders. Raises GateFault where a folder cannot be listed."""
        found: dict[str, list[Path]] = {}
        still: set[str] = set()
        waiting = [os.fspath(self.tree)]
        while waiting:
            for name, path in _folders_in(waiting.pop()):
                inner = [] if path in self._props else _folders_in(path)
                if path in self._props or any(VERSION.fullmatch(each) for each, _ in inner):
                    still.add(path)
                    found.setdefault(same_to_some(name), []).append(Path(path))
                elif inner:
                    waiting.append(path)
        self._props = still
        return found


def newest_version(folders: list[Path], owner: str | None = None) -> tuple[Path, Handed] | None:
    """The version that was claimed last, of this owner or of any. Raises GateFault where a record cannot be read."""
    found = []
    for folder in folders:
        with disk_step("could not read what was delivered before", folder):
            for _, version in reversed(versions_in(folder)):
                record = handed.read(version, raising=True)
                if record and owner in (None, record.owner):
                    found.append((version, record))
    return max(found, key=lambda pair: (pair[1].ticket, pair[1].part), default=None)


def _folders_in(folder: str) -> list[tuple[str, str]]:
    """(name, path) of the folders in one, without the gate's own and the system's."""
    with disk_step("could not list what was delivered", folder):
        try:
            with os.scandir(folder) as entries:
                return [
                    (entry.name, entry.path)
                    for entry in entries
                    if entry.is_dir(follow_symlinks=False) and entry.name[0] != "." and entry.name not in _OF_THE_SYSTEM
                ]
        except FileNotFoundError:
            return []
