"""What lies in a drop: every file with its kind, found by names and without opening any."""

from __future__ import annotations

import os
import stat
from collections.abc import Iterator, Sequence
from fnmatch import fnmatchcase
from pathlib import Path, PurePosixPath
from typing import TYPE_CHECKING

from tidegate.errors import AskedWrongly
from tidegate.model.prop import Drop, DropFile

from .image_header import suffix_format

if TYPE_CHECKING:
    from tidegate.model.name_scheme import NameScheme

MESH_SUFFIXES = (
    ".glb", ".gltf", ".obj", ".ply", ".stl", ".fbx", ".dae", ".usd", ".usda", ".usdc", ".usdz", ".3ds", ".abc", ".x3d", ".3mf",
)  # fmt: skip  # a list of words, not of lines
"""Suffixes of mesh files, with or without a reader here: what cannot be read is told and never passed over."""

LITTER = (
    "Thumbs.db", "desktop.ini", ".DS_Store", "._*", ".nfs*", ".fuse_hidden*",
    "*.part", "*.partial", "*.tmp", "*.temp", "*.crdownload", "*.filepart", "*.swp", "~*", ".~*",
)  # fmt: skip  # a list of words, not of lines
"""Names that systems and half-done copies leave behind; never part of a drop. Common practice, no source."""

_OURS = (
    "*.tidegate.json", "*.tidegate.txt", "*.tidegate.html", "manifest-sha256.txt",
    "*.tidegate.*.png", "*.tidegate.*.svg", "*.tidegate.*.ora", "*.tidegate.*.tga",
)  # fmt: skip  # a list of words, not of lines
_LAYERED_ONLY = (".psd", ".ora")  # never a flat map unless a mesh names it
_UNREAD_PICTURES = (".hdr", ".ktx", ".jp2", ".avif", ".heic", ".jxl", ".svg", ".pnm", ".ppm", ".pcx")
NOT_LISTED = "the folder cannot be listed"
_MOST_DEPTH = 64


def list_drop(
    paths: Path | Sequence[Path],
    scheme: NameScheme | None = None,
    *,
    name: str = "",
    ignore: Sequence[str] = LITTER,
) -> Drop:
    """The files of a drop, sorted by path, none of them opened.

    paths: a folder, which is one drop; or files, which are one drop rooted in the folder they share. A single mesh
    file brings the files that it names and those of its folder that are named after it.
    scheme: tells masters and names apart; None goes by the usual suffixes. name: of the drop, else the folder's name
    or the stem of the first mesh. ignore: name patterns of files that are left out, upper and lower case the same.
    Links are never followed out of the drop; such a link, a special file and a folder that cannot be listed are
    "other" with a note. Raises AskedWrongly for a path that is not there.
    """
    if isinstance(paths, Path):
        if paths.is_dir():
            return _list_folder(paths, scheme, name, ignore)
        paths = [paths]
    places = [_absolute(path) for path in paths]
    for place in places:
        if not os.path.lexists(place):
            raise AskedWrongly("there is no such file or folder", path=str(place))
    if not places:
        return Drop(name, "")
    root = Path(os.path.commonpath([place.parent for place in places]))
    if len(places) == 1 and places[0].suffix.lower() in MESH_SUFFIXES:
        from .loose_files import companions

        places += [root / one for one in companions(places[0], scheme, ignore)]
    found: dict[str, DropFile] = {}
    for place in places:
        relative = place.relative_to(root).as_posix()
        if place.is_dir() and not place.is_symlink():
            found.update((file.path, file) for file in _walk(place, relative, root, scheme, ignore, 0))
        elif not ignored(place.name, ignore):
            found[relative] = _listed(place, relative, root, scheme)
    files = tuple(found[path] for path in sorted(found))
    first = next((file.path for file in files if file.kind == "mesh"), files[0].path if files else "")
    return Drop(name or PurePosixPath(first).stem, str(root), files)


def _list_folder(folder: Path, scheme: NameScheme | None, name: str, ignore: Sequence[str]) -> Drop:
    root = _absolute(folder)
    files = sorted(_walk(root, "", root, scheme, ignore, 0), key=lambda file: file.path)
    return Drop(name or root.name, str(root), tuple(files), is_folder=True)


def _absolute(path: Path) -> Path:
    return Path(os.path.abspath(path))  # noqa: PTH100 - `resolve` would follow links


def kind_of(name: str, scheme: NameScheme | None = None) -> str:
    """The kind of a file by its name, see `DropFile.kind`. Whether a TIFF is layered its header tells, later."""
    plain = PurePosixPath(name).name
    if any(fnmatchcase(plain.lower(), pattern) for pattern in _OURS):
        return "report"
    suffix = PurePosixPath(plain).suffix.lower()
    if suffix in MESH_SUFFIXES:
        return "mesh"
    if suffix == ".bin":
        return "mesh part"
    if suffix == ".mtl":
        return "material library"
    picture = suffix_format(plain)
    # A suffix that may be either, such as .tif, counts as a map until its layers are seen.
    if suffix in _LAYERED_ONLY or (scheme is not None and scheme.is_master(plain) and not picture):
        return "master"
    if picture or suffix in _UNREAD_PICTURES:
        return "map"
    return "other"


def ignored(name: str, patterns: Sequence[str]) -> bool:
    """Whether a bare file name fits one of the patterns, upper and lower case the same."""
    return any(fnmatchcase(name.lower(), pattern.lower()) for pattern in patterns)


def _walk(
    folder: Path, path: str, root: Path, scheme: NameScheme | None, ignore: Sequence[str], depth: int
) -> Iterator[DropFile]:
    try:
        with os.scandir(folder) as listing:
            entries = sorted(listing, key=lambda entry: entry.name)
    except OSError as fault:
        note = f"{NOT_LISTED}: {fault.strerror or fault}"
        yield DropFile(path or ".", "other", 0, str(folder), note=note)
        return
    for entry in entries:
        inner = f"{path}/{entry.name}" if path else entry.name
        if ignored(entry.name, ignore):
            continue
        place = Path(entry.path)
        if entry.is_dir(follow_symlinks=False):
            if depth >= _MOST_DEPTH:
                yield DropFile(inner, "other", 0, str(place), note="the folder lies too deep and was not looked into")
            else:
                yield from _walk(place, inner, root, scheme, ignore, depth + 1)
        else:
            yield _listed(place, inner, root, scheme)


def _listed(place: Path, path: str, root: Path, scheme: NameScheme | None) -> DropFile:
    def other(note: str) -> DropFile:
        return DropFile(path, "other", 0, str(place), note=note)

    try:
        facts = place.lstat()
        if stat.S_ISLNK(facts.st_mode):
            if not place.resolve().is_relative_to(root.resolve()):
                return other("it is a link that leads outside the drop and was not followed")
            if not place.exists():
                return other("it is a link that leads nowhere")
            facts = place.stat()
            if stat.S_ISDIR(facts.st_mode):
                return other("it is a link to a folder of the drop and was not followed")
    except (OSError, RuntimeError) as fault:
        return other(f"it cannot be looked at: {getattr(fault, 'strerror', None) or fault}")
    if not stat.S_ISREG(facts.st_mode):
        return other("it is no regular file and was not opened")
    return DropFile(path, kind_of(path, scheme), facts.st_size, str(place), changed=facts.st_mtime_ns)
