"""Finding the files that a mesh or material library names, without ever looking outside the drop.

A reference is text somebody else wrote. It is compared with directory listings and nothing more: no path built
from it is opened, or even asked for its size, before its every step was found inside the drop or inside a library
folder from the configuration. Comparing with listings also gives the same answer on disks that fold upper and
lower case as on those that do not.
"""

from __future__ import annotations

import os
import re
import stat
import unicodedata
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path
from urllib.parse import unquote

from tidegate.errors import LimitExceeded, UnreadableFile
from tidegate.model.reference import FileReference

# RFC 3986 section 3.1. One letter and a colon is a Windows drive; both lead outside.
_SCHEME = re.compile(r"[A-Za-z][A-Za-z0-9+.\-]*:")
_LINK_STEPS = 16  # links of links followed inside the drop before we call it a loop
_WALK_ENTRIES = 200_000  # entries listed while looking for a bare file name

_PRESENT, _WRONG_CASE, _OUTSIDE, _MISSING = "present", "wrong-case", "outside", "missing"
_RANK = {_PRESENT: 0, _WRONG_CASE: 1, _OUTSIDE: 2, _MISSING: 3}


@dataclass(frozen=True, slots=True)
class DropFolder:
    """The folder of a drop, the files known in it, and the read-only library folders beside it.

    root: folder that relative paths start from. files: relative paths ("/" between parts) that count as being in
    the drop, or None: whatever lies under `root`, listed when asked for. libraries: folders of shared maps.
    Directory listings are kept as long as the object lives; make a new one to look anew.
    """

    root: Path
    files: tuple[str, ...] | None = None
    libraries: tuple[Path, ...] = ()
    _trees: dict[str, _Tree] = field(default_factory=dict, init=False, repr=False, compare=False)

    def resolve(self, text: str, *, base: str, kind: str, percent_encoded: bool) -> FileReference:
        """Where the file named by `text` is.

        base: folder of the file that holds the reference, relative to the drop ("" for its root). kind: see
        `FileReference`. percent_encoded: `text` is a URI, so `%20` is a space. Data URIs are the caller's.

        Upper and lower case must agree, else the status is "wrong-case"; names that differ only in Unicode
        normalisation agree. A file that is not in the drop is looked for in each library, by its relative path and
        then by its bare name. A reference that leads outside keeps that status, but when a file of the same bare
        name lies in the drop or a library, `path` names it, so that its map can still be measured. Never raises.
        """
        plain = unquote(text, errors="surrogateescape") if percent_encoded else text
        plain = plain.replace("\\", "/")
        parts = None if _leads_outside(plain) else _normal_parts(base, plain)
        if parts is None:
            return self._outside(text, kind, plain)
        status, path = self._tree(self.root).find(parts)
        if status == _OUTSIDE:  # a link that leaves the drop: its name is no hint of what it holds
            return FileReference(text, kind, _OUTSIDE)
        if status != _MISSING:
            return FileReference(text, kind, status, path=path)
        own = _normal_parts("", plain)
        for library in self.libraries:
            tree = self._tree(library)
            for wanted in (own, parts):
                status, path = tree.find(wanted) if wanted else (_MISSING, "")
                if status in (_PRESENT, _WRONG_CASE):
                    return FileReference(text, kind, status, path=(library / path).as_posix(), library=True)
        status, path, in_library = self._by_name(parts[-1] if parts else "", drop_too=False)
        return FileReference(text, kind, status, path=path, library=in_library)

    def path_of(self, relative: str) -> Path:
        """The place on the disk of a file of the drop (or, for a full path, of a library).

        Links are followed as long as they stay inside. Raises UnreadableFile when the path leads outside or nothing
        of exactly that name is there.
        """
        root, inner = self.root, relative
        if _leads_outside(relative.replace("\\", "/")):
            for library in self.libraries:
                prefix = library.as_posix().rstrip("/") + "/"
                if relative.startswith(prefix):
                    root, inner = library, relative[len(prefix) :]
                    break
        parts = None if inner.startswith("/") else _normal_parts("", inner)
        status, real = self._tree(root).real_path(parts) if parts else (_OUTSIDE, "")
        if status != _PRESENT and _leads_outside(inner):  # `co:lon.obj` may be the name of a file that lies here
            status = _OUTSIDE
        if status == _OUTSIDE:
            raise UnreadableFile(
                "the path leads outside the drop",
                path=relative,
                done="it was not opened",
                help="name files relative to the file that needs them and hand them over together",
            )
        if status != _PRESENT:
            raise UnreadableFile("the file is not there", path=relative, help="hand it over with the drop")
        return root / real

    def read_bytes(self, relative: str, limit: int) -> bytes:
        """The bytes of a file inside the drop or a library.

        limit: most bytes read. Raises UnreadableFile (outside, gone, no regular file, not readable) and
        LimitExceeded.
        """
        return self._read(relative, limit, None)

    def read_head(self, relative: str, length: int) -> bytes:
        """The first bytes of such a file, at most `length`. Raises UnreadableFile as `read_bytes` does."""
        return self._read(relative, None, length)

    def _read(self, relative: str, limit: int | None, length: int | None) -> bytes:
        place = self.path_of(relative)
        # Not blocking: a named pipe would otherwise hold us until somebody writes. Not following: links were
        # resolved step by step above, so a link here is one that was put there meanwhile.
        flags = os.O_RDONLY | getattr(os, "O_NOFOLLOW", 0) | getattr(os, "O_NONBLOCK", 0) | getattr(os, "O_BINARY", 0)
        try:
            with os.fdopen(os.open(place, flags), "rb", buffering=0) as stream:
                status = os.fstat(stream.fileno())
                if not stat.S_ISREG(status.st_mode):
                    raise UnreadableFile("this is no regular file", path=relative, done="it was not read")
                if length is not None:
                    return stream.read(length) or b""
                assert limit is not None
                if status.st_size > limit:
                    raise _too_large(relative, limit, status.st_size)
                data = stream.read(status.st_size) or b""
                while more := stream.read(min(1 << 20, limit + 1 - len(data))):
                    data += more  # it grew since, or one read gave less than asked for
                    if len(data) > limit:
                        raise _too_large(relative, limit, len(data))
                return data
        except OSError as fault:
            raise UnreadableFile(
                f"the file cannot be opened or read: {fault.strerror or fault}",
                path=relative,
                help="check that it is not locked and that the gate may read it",
            ) from fault

    def find_name(self, name: str) -> tuple[str, ...]:
        """Relative paths of all files of the drop with exactly this bare name, sorted."""
        return self._tree(self.root).named(name)[0]

    def _outside(self, text: str, kind: str, plain: str) -> FileReference:
        name = re.split("[/:]", plain.rstrip("/"))[-1]  # "C:rope.png" too
        _, path, in_library = self._by_name(name, drop_too=True)
        return FileReference(text, kind, _OUTSIDE, path=path, library=in_library)

    def _by_name(self, name: str, *, drop_too: bool) -> tuple[str, str, bool]:
        """Status, path and whether a library holds it, for the first file of that bare name."""
        if name in ("", ".", ".."):
            return _MISSING, "", False
        places = [(self.root, False)] if drop_too else []
        places += [(library, True) for library in self.libraries]
        for root, in_library in places:
            exact, folded = self._tree(root).named(name)
            for status, found in ((_PRESENT, exact), (_WRONG_CASE, folded)):
                if found:
                    return status, (root / found[0]).as_posix() if in_library else found[0], in_library
        return _MISSING, "", False

    def _tree(self, root: Path) -> _Tree:
        key = os.fspath(root)
        tree = self._trees.get(key)
        if tree is None:
            tree = self._trees[key] = _Tree(root, self.files if root == self.root else None)
        return tree


def folder_of(path: str) -> str:
    """Folder part of a relative path with "/" between its parts, "" for a file at the root."""
    return path.rpartition("/")[0]


def _leads_outside(plain: str) -> bool:
    return plain.startswith("/") or _SCHEME.match(plain) is not None


def _normal_parts(base: str, plain: str) -> list[str] | None:
    """Steps from the drop's root, or None when any of them climbs above it."""
    parts = [part for part in base.split("/") if part not in ("", ".")]
    for part in plain.split("/"):
        if part in ("", "."):
            continue
        if part == "..":
            if not parts:
                return None
            parts.pop()
        else:
            parts.append(part)
    return parts


def _same(text: str) -> str:
    return unicodedata.normalize("NFC", text)


def _folded(text: str) -> str:
    return _same(_same(text).casefold())


def _too_large(path: str, limit: int, size: int) -> LimitExceeded:
    return LimitExceeded(
        "the file is larger than the limits allow", path=path, expected=f"at most {limit} bytes", came=f"{size} bytes"
    )


class _Tree:
    """Names under one root folder. Never lists through a link, never follows a link out."""

    def __init__(self, root: Path, files: tuple[str, ...] | None) -> None:
        self._root = root
        self._listed = None if files is None else _folders_of(files)
        self._folders: dict[str, dict[str, bool]] = {}
        self._names: dict[str, list[str]] | None = None

    def find(self, parts: list[str]) -> tuple[str, str]:
        """Status and relative path of the file at these steps; the best over names that differ only in case."""
        return self._find("", parts, _PRESENT)

    def _find(self, folder: str, parts: list[str], so_far: str) -> tuple[str, str]:
        if not parts:
            return _MISSING, ""  # a folder, no file
        best = (_MISSING, "")
        for status, name in _matches(parts[0], self._entries(folder)):
            status = max(so_far, status, key=_RANK.__getitem__)
            path = f"{folder}/{name}" if folder else name
            if len(parts) == 1:
                reached, _ = self.real_path(path.split("/"))
                found = (status if reached == _PRESENT else reached, path)
            else:
                reached, real = self._follow(path)
                if reached != _PRESENT:
                    found = (reached, path)
                else:
                    deeper = self._find(real, parts[1:], status)
                    # Keep the path as it was reached; where it truly lies is `real_path`'s business.
                    found = (deeper[0], path + deeper[1][len(real) :]) if deeper[1] else deeper
            if _RANK[found[0]] < _RANK[best[0]]:
                best = found
            if best[0] == _PRESENT:
                break
        return best

    def real_path(self, parts: list[str]) -> tuple[str, str]:
        """Status and link-free relative path of a file, by exact names."""
        status, path = self._follow("/".join(parts))
        if status != _PRESENT:
            return status, path
        folder, _, name = path.rpartition("/")
        is_file = self._entries(folder).get(name)
        return (_PRESENT, path) if is_file else (_MISSING, "")

    def _follow(self, path: str) -> tuple[str, str]:
        """The path with every link in it resolved, step by step, by reading links and nothing else."""
        ahead, steps = path.split("/"), 0
        behind: list[str] = []
        while ahead:
            part = ahead.pop(0)
            if part in ("", "."):
                continue
            if part == "..":
                if not behind:
                    return _OUTSIDE, ""
                behind.pop()
                continue
            behind.append(part)
            try:
                target = os.fspath(self._root.joinpath(*behind).readlink())
            except (OSError, ValueError):
                continue  # no link, or nothing there: the listing decides
            steps += 1
            target = target.replace("\\", "/") if os.name == "nt" else target
            if steps > _LINK_STEPS:
                return _MISSING, ""
            if target.startswith("/") or (os.name == "nt" and _SCHEME.match(target)):
                return _OUTSIDE, ""
            behind.pop()
            ahead = target.split("/") + ahead
        return _PRESENT, "/".join(behind)

    def named(self, name: str) -> tuple[tuple[str, ...], tuple[str, ...]]:
        """Files of that bare name: with the same letters, and with the same letters in another case. Sorted."""
        if self._names is None:
            self._names = {}
            for path in self._walk():
                self._names.setdefault(_folded(path.rsplit("/", 1)[-1]), []).append(path)
        alike = sorted(self._names.get(_folded(name), ()))
        alike = [path for path in alike if self.real_path(path.split("/"))[0] == _PRESENT]
        exact = tuple(path for path in alike if _same(path.rsplit("/", 1)[-1]) == _same(name))
        return exact, tuple(path for path in alike if path not in exact)

    def _walk(self) -> list[str]:
        found: list[str] = []
        waiting, seen = [""], 0
        while waiting and seen < _WALK_ENTRIES:
            folder = waiting.pop()
            for name, is_file in sorted(self._entries(folder).items()):
                seen += 1
                path = f"{folder}/{name}" if folder else name
                if is_file:
                    found.append(path)
                elif not self._root.joinpath(path).is_symlink():
                    waiting.append(path)
        return found

    def _entries(self, folder: str) -> dict[str, bool]:
        """Names in a folder -> whether each is a file (a link counts as a file and as a folder until followed)."""
        if self._listed is not None:
            return self._listed.get(folder, {})
        entries = self._folders.get(folder)
        if entries is None:
            try:
                with os.scandir(self._root.joinpath(folder)) as listing:
                    entries = {entry.name: not entry.is_dir(follow_symlinks=False) for entry in listing}
            except (OSError, ValueError):
                entries = {}
            self._folders[folder] = entries
        return entries


def _folders_of(files: tuple[str, ...]) -> dict[str, dict[str, bool]]:
    folders: dict[str, dict[str, bool]] = {"": {}}
    for file in files:
        folder, _, name = file.rpartition("/")
        folders.setdefault(folder, {})[name] = True
        while folder:
            folder, _, name = folder.rpartition("/")
            folders.setdefault(folder, {}).setdefault(name, False)
    return folders


def _matches(wanted: str, names: dict[str, bool]) -> Iterator[tuple[str, str]]:
    """Names that could be meant, best first: the very name, another normalisation, another case."""
    if wanted in names:
        yield _PRESENT, wanted  # a right reference never comes to folding every name of its folder
    key, same = _folded(wanted), _same(wanted)
    alike = sorted(name for name in names if name != wanted and _folded(name) == key)
    yield from ((_PRESENT, name) for name in alike if _same(name) == same)
    yield from ((_WRONG_CASE, name) for name in alike if _same(name) != same)
