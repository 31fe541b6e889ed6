"""Which props a delivery tree holds by now, wherever in it they lie, and their newest version."""

from __future__ import annotations

import os
import time
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path

from . import handed
from .faults import disk_step
from .handed import Handed
from .identity import VERSION, versions_in
from .names import same_to_some

_OF_THE_SYSTEM = frozenset({"lost+found", "$RECYCLE.BIN", "System Volume Information"})


SETTLED = 5.0
"""Seconds. File systems tell the time of a change to 2 seconds or better: a folder listed so long after its time of change
was first seen holds just that until the time changes."""


@dataclass(frozen=True, slots=True)
class _Place:
    """A folder that is no prop. changed: its time of change; since: when that was first seen, by the monotonic clock.

    final: the listing stands as long as the time of change does. props: name, as `same_to_some` gives it -> paths.
    leaves: all of those. inner: paths of its other folders.
    """

    changed: int
    since: float
    final: bool
    props: dict[str, list[str]]
    leaves: frozenset[str]
    inner: tuple[str, ...]


@dataclass(slots=True)
class DeliveredProps:
    """A delivery tree. A folder with versions in it is a prop; only folders that changed are listed again."""

    tree: Path
    clock: Callable[[], float] = time.monotonic
    _places: dict[str, _Place] = field(default_factory=dict)

    def look(self) -> None:
        """Take in what the tree holds by now. Raises GateFault where a folder cannot be listed."""
        places: dict[str, _Place] = {}
        waiting = [os.fspath(self.tree)]
        while waiting:
            path = waiting.pop()
            if place := self._look_at(path, self._places.get(path)):
                places[path] = place
                waiting.extend(place.inner)
        self._places = places

    def at(self, prop: str) -> list[Path]:
        """The folders of a prop, as of the last look. prop: as `same_to_some` gives it."""
        return [Path(path) for place in self._places.values() for path in place.props.get(prop, ())]

    def _look_at(self, path: str, known: _Place | None) -> _Place | None:
        now = self.clock()
        with disk_step("could not list what was delivered", path):
            try:
                changed = os.stat(path).st_mtime_ns
            except FileNotFoundError:
                return None
        since = known.since if known and known.changed == changed else now
        if known and known.final and known.changed == changed:
            return known
        props: dict[str, list[str]] = {}
        inner = []
        within = _folders_in(path)
        if path != os.fspath(self.tree) and any(VERSION.fullmatch(name) for name, _ in within):
            within = []  # an empty folder once, which has become a prop
            props[same_to_some(os.path.basename(path))] = [path]
        for name, folder in within:
            if (known and folder in known.leaves) or any(VERSION.fullmatch(each) for each, _ in _folders_in(folder)):
                props.setdefault(same_to_some(name), []).append(folder)
            else:
                inner.append(folder)
        leaves = frozenset(folder for folders in props.values() for folder in folders)
        return _Place(changed, since, now - since >= SETTLED, props, leaves, tuple(inner))


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
