"""When a drop has arrived. Pure: the time is an argument, contents are asked through `Questions`.

A drop has settled when nothing of it changed for the quiet time, every file is complete by its own format, and what its
meshes name is there or was waited for long enough. A stalled copy outlives any quiet time; its format tells.
"""

from __future__ import annotations

import os
from dataclasses import dataclass, field
from pathlib import Path, PurePosixPath

from .grouping import SeenDrop, suffix
from .scan import SeenFile
from .settings import GateRules, Questions

UNREADABLE = "cannot be read"


@dataclass(frozen=True, slots=True)
class Waiting:
    """A drop that has not settled. reason: one line. until: monotonic time when it may, None when that depends on others."""

    drop: SeenDrop
    reason: str
    until: float | None


@dataclass(frozen=True, slots=True)
class Settled:
    """What one look led to."""

    ready: tuple[SeenDrop, ...]
    waiting: tuple[Waiting, ...]


@dataclass(slots=True)
class Memory:
    """What the gate remembers between looks. Losing it only makes drops wait once more.

    still_since: monotonic time since when a drop's files have been as they are. Answers of the questions are kept per
    file signature, so an unchanged file is asked once.
    """

    questions: Questions
    inbox: Path
    still_since: dict[tuple[str, str], tuple[tuple[tuple[str, tuple[int, int, int]], ...], float]] = field(
        default_factory=dict
    )
    _whole: set[tuple[str, tuple[int, int, int]]] = field(default_factory=set)
    _wanted: dict[tuple[str, tuple[int, int, int]], tuple[str, ...]] = field(default_factory=dict)

    def why_incomplete(self, file: SeenFile) -> str:
        """ "" when the file can be taken, else why not. A no is asked again: permission may come without a change."""
        key = (file.path, file.signature)
        path = self.inbox / file.path
        if key in self._whole:
            return ""
        if not os.access(path, os.R_OK):
            return UNREADABLE  # many copying tools give permission last
        try:
            if self.questions.complete(path) is False:
                return "is not complete"
        except OSError:
            return UNREADABLE
        self._whole.add(key)
        return ""

    def wanted(self, file: SeenFile) -> tuple[str, ...]:
        """Names a mesh refers to, asked once per signature."""
        key = (file.path, file.signature)
        if key not in self._wanted:
            try:
                self._wanted[key] = tuple(self.questions.wanted(self.inbox / file.path))
            except OSError:
                return ()
        return self._wanted[key]

    def forget_absent(self, drops: tuple[SeenDrop, ...]) -> None:
        """Keep only what is still in the inbox: memory stays steady however many drops pass."""
        keys = {drop.key for drop in drops}
        files = {(file.path, file.signature) for drop in drops for file in drop.files}
        self.still_since = {key: value for key, value in self.still_since.items() if key in keys}
        self._whole &= files
        self._wanted = {key: value for key, value in self._wanted.items() if key in files}


def settle(drops: tuple[SeenDrop, ...], memory: Memory, rules: GateRules, now: float) -> Settled:
    """Which drops have settled at monotonic time `now`. Updates `memory`."""
    memory.forget_absent(drops)
    ready, waiting = [], []
    for drop in drops:
        signature = tuple((file.path, file.signature) for file in drop.files)
        seen, since = memory.still_since.get(drop.key, ((), now))
        if seen != signature:
            since = now
        memory.still_since[drop.key] = (signature, since)
        why = _why_not(drop, memory, rules, now, since)
        if why is None:
            ready.append(drop)
        else:
            waiting.append(Waiting(drop, *why))
    return Settled(tuple(ready), tuple(waiting))


def _why_not(
    drop: SeenDrop, memory: Memory, rules: GateRules, now: float, since: float
) -> tuple[str, float | None] | None:
    signalled = False
    if rules.ready_file and drop.kind == "folder":
        signalled = any(file.path == f"{drop.name}/{rules.ready_file}" for file in drop.files)
        if not signalled:
            return f"no file named {rules.ready_file} in it yet", None
    if not signalled and now < since + rules.quiet:
        return "changed a moment ago", since + rules.quiet
    if drop.partial and now < since + rules.wait:
        return f"{drop.partial[0]} is still being copied", since + rules.wait
    for file in drop.files:
        why = memory.why_incomplete(file)
        if why == UNREADABLE:
            return f"{file.path} {why}", None
        if why and now < since + rules.stalled:
            return f"{file.path} {why}", since + rules.stalled
    missing = missing_textures(drop, memory, rules)
    if missing and now < since + rules.wait:
        return f"waits for {missing[0]}", since + rules.wait
    return None


def missing_textures(drop: SeenDrop, memory: Memory, rules: GateRules) -> tuple[str, ...]:
    """Names that meshes of the drop refer to and that are not in it, by bare file name."""
    there = {PurePosixPath(file.path).name.casefold() for file in drop.files}
    return tuple(
        name
        for file in drop.files
        if suffix(file.path) in rules.meshes
        for name in memory.wanted(file)
        if name.replace("\\", "/").rsplit("/", 1)[-1].casefold() not in there
    )
