"""The returned tree of a gate: which props lie there to be mended."""

from __future__ import annotations

import os
import re
from collections.abc import Iterable
from dataclasses import dataclass, field
from functools import cached_property
from pathlib import Path, PurePosixPath

from . import handed
from .faults import disk_step, is_absent
from .handed import Handed
from .names import fitted, same_to_some
from .ticket_ids import TICKET_ID

_FOLDER = re.compile(rf"(?P<prop>.+)-(?P<ticket>{TICKET_ID.pattern})", re.DOTALL | re.ASCII)


@dataclass(frozen=True)
class ReturnedProp:
    """One folder of the returned tree with its record. Names compare as file systems that fold case would."""  # no slots

    folder: Path
    record: Handed

    @cached_property
    def age(self) -> tuple[str, int, bool, int]:
        """The greater, the newer. A copy that somebody made beside it has another name and comes before it."""
        own = self.folder.name == fitted(self.record.prop, self.record.ticket)
        return self.record.ticket, self.record.part, own, -len(self.folder.name)

    @cached_property
    def prop(self) -> str:
        return same_to_some(self.record.prop)

    @cached_property
    def places(self) -> dict[str, list[str]]:
        """Bare name -> paths of the artist's files of that name."""
        found: dict[str, list[str]] = {}
        for path, _, _ in self.record.files:
            found.setdefault(same_to_some(PurePosixPath(path).name), []).append(path)
        return found

    @cached_property
    def _by_stem(self) -> dict[str, list[str]]:
        """Bare name without its last suffix -> paths of the artist's files of that stem."""
        found: dict[str, list[str]] = {}
        for name, paths in self.places.items():
            found.setdefault(name.rpartition(".")[0], []).extend(paths)
        return found

    def mended_by(self, key: str, maps: tuple[str, ...]) -> list[str]:
        """Paths of its files that a file of this bare name takes the place of: of the same name, else the map in another format.

        key: as `same_to_some` gives it. maps: see `GateRules`.
        """
        if key in self.places or not key.endswith(maps):
            return self.places.get(key, [])
        return [path for path in self._by_stem.get(key.rpartition(".")[0], ()) if path.lower().endswith(maps)]

    def meshes(self, suffixes: tuple[str, ...]) -> list[str]:
        """Paths of its mesh files."""
        return [path for path, _, _ in self.record.files if path.lower().endswith(suffixes)]

    def stems(self, suffixes: tuple[str, ...]) -> frozenset[str]:
        """What the name of a new file of this prop begins with: the prop's name, or a mesh's up to its first dot."""
        if suffixes not in self._stems:
            meshes = {same_to_some(PurePosixPath(path).name.split(".", 1)[0]) for path in self.meshes(suffixes)}
            self._stems[suffixes] = frozenset({self.prop, *meshes} - {""})
        return self._stems[suffixes]

    @cached_property
    def _stems(self) -> dict[tuple[str, ...], frozenset[str]]:
        return {}

    def left(self) -> list[str] | None:
        """The paths of its record that are still there; None where that cannot be told."""
        left = []
        for path, _, _ in self.record.files:
            try:
                os.lstat(os.path.join(self.folder, path))
            except OSError as error:
                if not is_absent(error):
                    return None
                continue
            left.append(path)
        return left


@dataclass(slots=True)
class ReturnedProps:
    """The returned tree of a gate, with each folder's record read once. Folders there never change once made."""

    tree: Path
    _known: dict[str, ReturnedProp | None] = field(default_factory=dict)

    def all(self) -> list[ReturnedProp]:
        """Every returned prop, newest first. Raises GateFault where the tree cannot be listed."""
        with disk_step("could not list the returned props", self.tree):
            try:
                names = {name for name in os.listdir(self.tree) if not name.startswith(".")}
            except FileNotFoundError:
                names = set()
        self._known = {name: known for name, known in self._known.items() if name in names and known}
        for name in names - self._known.keys():
            record = _record_in(self.tree / name)
            self._known[name] = ReturnedProp(self.tree / name, record) if record else None
        return sorted(filter(None, self._known.values()), key=lambda each: (each.age, each.folder.name), reverse=True)

    def without_record(self, prop: str, ticket: str) -> str:
        """The newest folder that by its name is a return of the prop, newer than the ticket, and gives no record; or "".

        To be asked after `all`. prop: as `same_to_some` gives it.
        """
        found = ""
        for name, known in self._known.items():
            told = None if known else _FOLDER.match(name)
            if told and same_to_some(told["prop"]) == prop and told["ticket"] > ticket:
                found = max(found, name)
        return found


def begins_with(name: str, stem: str) -> bool:
    """Whether a name begins with a stem that ends where a field of it ends. Both as `same_to_some` gives them."""
    return bool(stem) and name.startswith(stem) and not name[len(stem) : len(stem) + 1].isalnum()


def longest_stem(stems: Iterable[str], name: str) -> int:
    """Length of the longest stem that the name begins with; 0 for none."""
    return max((len(stem) for stem in stems if begins_with(name, stem)), default=0)


def _record_in(folder: Path) -> Handed | None:
    """Tried twice, so that one call that fails does not part a mended file from its prop.

    A folder that stays unreadable is passed over: one bad return must not hold up every other drop.
    """
    try:
        record = handed.read(folder, raising=True)
    except OSError:
        record = handed.read(folder)
    return record if record and TICKET_ID.fullmatch(record.ticket) else None
