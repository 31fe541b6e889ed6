"""A mended file dropped again: which returned prop it completes, and what changed.

Two ways back in:
- loose files without a mesh (or with a mesh whose textures are missing), whose names a returned prop has or begins
  with: that prop's folder is taken along, the new files in the place of the old, and the whole is judged anew. What
  was replaced, and the old report, go to the kept tree. The newest fitting return wins; if two props fit, none is taken.
- a whole returned folder, our record still inside: it stands alone, and the record tells what it was.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from pathlib import Path, PurePosixPath

from . import handed
from .handed import Handed


@dataclass(frozen=True, slots=True)
class RedropStory:
    """What a drop mends. ticket: of the return. Paths relative to the drop, sorted.

    mended: there before with other content. new: not there before. unchanged: as before. missing: there before, no more.
    """

    ticket: str
    prop: str
    mended: tuple[str, ...] = ()
    new: tuple[str, ...] = ()
    unchanged: tuple[str, ...] = ()
    missing: tuple[str, ...] = ()


@dataclass(slots=True)
class ReturnedProps:
    """The returned tree of a gate, with each folder's record read once. Folders there never change once made."""

    tree: Path
    _records: dict[str, Handed | None] = field(default_factory=dict)

    def all(self) -> list[tuple[Path, Handed]]:
        """Every returned prop of which files are left, newest ticket first."""
        try:
            names = {path.name for path in self.tree.iterdir() if not path.name.startswith(".")}
        except FileNotFoundError:
            names = set()
        self._records = {name: record for name, record in self._records.items() if name in names and record}
        for name in names - self._records.keys():
            self._records[name] = _record_in(self.tree / name)
        found = [(self.tree / name, record) for name, record in self._records.items() if record]
        return sorted(found, key=lambda pair: (pair[1].ticket, pair[1].part, pair[0].name), reverse=True)


def completes(
    names: Sequence[str], *, with_mesh: bool, missing: Sequence[str], gate: str, returned: ReturnedProps
) -> tuple[Path, Handed] | None:
    """The returned prop that loose files complete, or None.

    names: of the dropped files. with_mesh: one of them is a mesh. missing: textures it names that are not among them; a
    mesh completes only a return that has at least one of those.
    """
    fits: list[tuple[Path, Handed]] = []
    for folder, record in returned.all():
        had = {PurePosixPath(path).name for path, _, _ in record.files}
        if record.gate != gate or not all(name in had or _begins_with(name, record.prop) for name in names):
            continue
        if with_mesh and not had & {PurePosixPath(name.replace("\\", "/")).name for name in missing}:
            continue
        if had - set(names):
            fits.append((folder, record))
    exact = [fit for fit in fits if any(PurePosixPath(path).name in names for path, _, _ in fit[1].files)]
    longest = max((len(record.prop) for _, record in fits), default=0)
    best = exact or [fit for fit in fits if len(fit[1].prop) == longest]
    return best[0] if best and len({record.prop for _, record in best}) == 1 else None


def place_in(record: Handed, name: str) -> str:
    """Where in the prop a dropped file of this name goes: the place of the file it mends, else the top."""
    return next((path for path, _, _ in record.files if PurePosixPath(path).name == name), name)


def story(record: Handed, now: Sequence[tuple[str, str]]) -> RedropStory:
    """What changed from a return to the (path, sha256) pairs of the drop as it is judged."""
    before = dict(record.content)
    after = {path: sha256 for path, sha256 in now if path not in dict(record.sidecars) and path != handed.RECORD}
    return RedropStory(
        ticket=record.ticket,
        prop=record.prop,
        mended=tuple(sorted(path for path in after if path in before and before[path] != after[path])),
        new=tuple(sorted(path for path in after if path not in before)),
        unchanged=tuple(sorted(path for path in after if before.get(path) == after[path])),
        missing=tuple(sorted(path for path in before if path not in after)),
    )


def _record_in(folder: Path) -> Handed | None:
    """Tried twice, so that one call that fails does not part a mended file from its prop.

    A folder that stays unreadable is passed over: one bad return must not hold up every other drop.
    """
    try:
        return handed.read(folder, raising=True)
    except OSError:
        return handed.read(folder)


def _begins_with(name: str, prop: str) -> bool:
    return bool(prop) and name.startswith(prop) and not name[len(prop) : len(prop) + 1].isalnum()
