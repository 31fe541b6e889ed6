"""Configuration that is read anew when it changes, and stays at its last good state when an edit breaks it."""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Iterable
from pathlib import Path
from typing import Generic, TypeVar

from tidegate.errors import AskedWrongly

T = TypeVar("T")


class LastGood(Generic[T]):
    """A value made from files.

    read: makes the value, raises AskedWrongly (or ConfigurationFault) when the files are wrong. files: what a value was
    made from; a folder stands for the names and contents of the TOML files in it. The first reading may raise; later
    ones never do: `value` stays the last good one and `fault` says what is wrong now, None when nothing is.
    """

    def __init__(self, read: Callable[[], T], files: Callable[[T], Iterable[str | Path]]) -> None:
        self._read = read
        self._files = files
        self.fault: AskedWrongly | None = None
        self.value = read()
        self._watched = tuple(Path(file) for file in files(self.value))
        self._state = _state(self._watched)

    def refresh(self) -> bool:
        """Looks whether a file has changed and reads anew if so. True when there is a new value or a new fault to tell.

        A fault is tried again at every refresh, since what mends it may lie in a file that no good value was made from.
        """
        state = _state(self._watched)
        if state == self._state and self.fault is None:
            return False
        said = str(self.fault) if self.fault else ""
        try:
            value = self._read()
        except AskedWrongly as fault:
            self.fault, self._state = fault, state
            return str(fault) != said
        changed = self.fault is not None or value != self.value
        self.value, self.fault = value, None
        watched = tuple(Path(file) for file in self._files(value))
        # A file that changed while it was read shows at the next refresh: the state is the one from before reading,
        # unless other files are watched now.
        self._state = state if watched == self._watched else _state(watched)
        self._watched = watched
        return changed


def _state(files: Iterable[Path]) -> tuple[tuple[str, str], ...]:
    """Path and content hash of each file: the files are small, and times of change may lie."""
    return tuple((str(one), _hash(one)) for file in files for one in _expanded(file))


def _expanded(path: Path) -> list[Path]:
    try:
        return sorted(path.glob("*.toml")) if path.is_dir() else [path]
    except OSError:
        return [path]


def _hash(path: Path) -> str:
    try:
        return hashlib.sha256(path.read_bytes()).hexdigest()
    except OSError as error:
        return f"cannot be read: {error.errno}"
