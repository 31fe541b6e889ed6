"""A pure look at an inbox: what lies there now. Nothing is changed, no link is followed, no file is opened."""

from __future__ import annotations

import functools
import os
import re
import stat
from collections.abc import Iterator
from dataclasses import dataclass
from fnmatch import translate
from pathlib import Path, PurePosixPath

from .durable import PART
from .faults import disk_step
from .settings import GateRules

NAMED_AS_PART = "it has the name of an unfinished copy of tidegate and is none"
"""Said of a file in an inbox that the gate neither takes nor removes."""


@dataclass(frozen=True, slots=True)
class SeenFile:
    """One file as it lay there. path: relative to the inbox, "/" between parts, surrogate-escaped where not UTF-8.

    mtime in nanoseconds. device, inode, links: as stat gives them; two names of one file share an inode.
    """

    path: str
    bytes: int
    mtime: int
    device: int
    inode: int
    links: int

    @property
    def signature(self) -> tuple[int, int, int]:
        """What changes when the file does."""
        return (self.bytes, self.mtime, self.inode)


@dataclass(frozen=True, slots=True)
class Look:
    """folders: name of a top folder -> its files. loose: files right in the inbox. Both sorted by path.

    partial: files whose names say that they are still being copied. odd: links, pipes, sockets, devices; they are
    never part of a drop. unreadable: folders that could not be listed.
    """

    folders: dict[str, tuple[SeenFile, ...]]
    loose: tuple[SeenFile, ...]
    partial: tuple[str, ...]
    odd: tuple[str, ...]
    unreadable: tuple[str, ...]


def look(inbox: Path, rules: GateRules) -> Look:
    """Everything in the inbox. Raises GateFault when the inbox itself cannot be listed.

    Files that vanish during the look are left out; the next look tells.
    """
    found = _Found(rules)
    with disk_step("could not list the inbox", inbox):
        tops = sorted(os.scandir(inbox), key=lambda entry: entry.name)
    folders: dict[str, tuple[SeenFile, ...]] = {}
    loose: list[SeenFile] = []
    for top in tops:
        if top.is_dir(follow_symlinks=False):
            if files := tuple(found.walk(Path(top.path), top.name)):
                folders[top.name] = files
        else:
            loose.extend(found.file(top, top.name))
    return Look(folders, tuple(loose), tuple(found.partial), tuple(found.odd), tuple(found.unreadable))


def named_as_parts(seen: Look) -> tuple[str, ...]:
    """Files that have the name of an unfinished copy of the gate, which are never taken, whoever made them."""
    return tuple(path for path in seen.partial if PurePosixPath(path).name.startswith(PART))


def look_at_folder(folder: Path, path: str, rules: GateRules) -> tuple[SeenFile, ...]:
    """The files under one folder, with paths that begin with `path`; () when it is not there."""
    return tuple(_Found(rules).walk(folder, path)) if folder.is_dir() and not folder.is_symlink() else ()


def files_under(root: Path | str) -> list[str]:
    """Relative paths of all files, sorted, "/" between parts. Links count as files, they are not followed."""
    found: list[str] = []
    folders = [(os.fspath(root), "")]
    while folders:
        folder, path = folders.pop()
        with disk_step("could not list", folder):
            try:
                with os.scandir(folder) as entries:
                    for entry in entries:
                        if entry.is_dir(follow_symlinks=False):
                            folders.append((entry.path, f"{path}{entry.name}/"))
                        else:
                            found.append(path + entry.name)
            except FileNotFoundError:
                continue
    return sorted(found)


def matches(name: str, patterns: tuple[str, ...]) -> bool:
    """Whether a bare file name fits one of the patterns, upper and lower case being the same."""
    return bool(patterns) and _any_of(patterns).match(name.lower()) is not None


@functools.lru_cache(64)
def _any_of(patterns: tuple[str, ...]) -> re.Pattern[str]:
    return re.compile("|".join(translate(pattern.lower()) for pattern in patterns))


class _Found:
    """Collects on the way what is not a plain file."""

    def __init__(self, rules: GateRules) -> None:
        self.rules = rules
        self.partial: list[str] = []
        self.odd: list[str] = []
        self.unreadable: list[str] = []

    def walk(self, folder: Path, path: str) -> Iterator[SeenFile]:
        try:
            entries = sorted(os.scandir(folder), key=lambda entry: entry.name)
        except FileNotFoundError:
            return
        except OSError:
            self.unreadable.append(path)
            return
        for entry in entries:
            inner = f"{path}/{entry.name}"
            if entry.is_dir(follow_symlinks=False):
                yield from self.walk(Path(entry.path), inner)
            else:
                yield from self.file(entry, inner)

    def file(self, entry: os.DirEntry[str], path: str) -> Iterator[SeenFile]:
        if matches(entry.name, self.rules.litter):
            return
        try:
            # What Windows tells with the listing has neither inode nor links.
            facts = Path(entry.path).lstat() if os.name == "nt" else entry.stat(follow_symlinks=False)
        except OSError:
            return
        if not stat.S_ISREG(facts.st_mode):
            self.odd.append(path)
        elif matches(entry.name, self.rules.partial) or entry.name.startswith(PART):
            self.partial.append(path)
        else:
            yield SeenFile(path, facts.st_size, facts.st_mtime_ns, facts.st_dev, facts.st_ino, facts.st_nlink)
