"""What a drop that came back changed, told from our record of the return."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import PurePosixPath

from . import handed
from .handed import Handed
from .names import same_to_some


@dataclass(frozen=True, slots=True)
class RedropStory:
    """What a drop mends. ticket: of the return. Paths relative to the drop, sorted.

    mended: there before with other content. new: not there before. unchanged: as before. missing: there before, no more.
    instead: (path, path before) of maps that come in another format now; they are neither new nor missing.
    """

    ticket: str
    prop: str
    mended: tuple[str, ...] = ()
    new: tuple[str, ...] = ()
    unchanged: tuple[str, ...] = ()
    missing: tuple[str, ...] = ()
    instead: tuple[tuple[str, str], ...] = ()


def story(record: Handed, now: Sequence[tuple[str, str]], maps: tuple[str, ...]) -> RedropStory:
    """What changed from a return to the (path, sha256) pairs of the drop as it is judged. maps: see `GateRules`."""
    before = dict(record.content)
    after = {path: sha256 for path, sha256 in now if path not in dict(record.sidecars) and path != handed.RECORD}
    missing = {_stem(path): path for path in sorted(before) if path not in after and path.lower().endswith(maps)}
    new = [path for path in after if path not in before]
    # One place is taken once: of two formats of a map, the second is new.
    instead = {
        path: missing.pop(_stem(path)) for path in sorted(new) if path.lower().endswith(maps) and _stem(path) in missing
    }
    return RedropStory(
        ticket=record.ticket,
        prop=record.prop,
        mended=tuple(sorted(path for path in after if path in before and before[path] != after[path])),
        new=tuple(sorted(path for path in new if path not in instead)),
        unchanged=tuple(sorted(path for path in after if before.get(path) == after[path])),
        missing=tuple(sorted(path for path in before if path not in after and path not in instead.values())),
        instead=tuple(sorted(instead.items())),
    )


def _stem(path: str) -> str:
    return same_to_some(str(PurePosixPath(path).with_suffix("")))
