"""From files seen to drops: a folder is one, an archive is one, loose files that belong together are one."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import PurePosixPath

from .archives import is_archive
from .scan import Look, SeenFile
from .settings import GateRules, Questions


@dataclass(frozen=True, slots=True)
class SeenDrop:
    """kind: "folder", "loose" or "archive". name: folder name, or stem of the first mesh, file or archive.

    files: sorted by path. partial: files of a folder still being copied. odd: its links and special files.
    """

    kind: str
    name: str
    files: tuple[SeenFile, ...]
    partial: tuple[str, ...] = ()
    odd: tuple[str, ...] = ()

    @property
    def key(self) -> tuple[str, str]:
        """Tells this drop from others in the same look and finds it again in the next one."""
        return (self.kind, self.name)


def drops_in(
    look: Look, rules: GateRules, questions: Questions, wanted: Callable[[SeenFile], Sequence[str]]
) -> tuple[SeenDrop, ...]:
    """All drops of a look, sorted by name. wanted: names a mesh refers to (see `settle.Memory`)."""
    drops = [
        SeenDrop("folder", name, files, _under(name, look.partial), _under(name, look.odd))
        for name, files in look.folders.items()
    ]
    archives = [file for file in look.loose if is_archive(file.path)]
    drops += [SeenDrop("archive", stem(file.path), (file,)) for file in archives]
    plain = {file.path: file for file in look.loose if not is_archive(file.path) and file.path != rules.ready_file}
    groups: Sequence[Sequence[str]]
    if questions.group is None:
        groups = by_name(list(plain), rules.meshes, {name: tuple(wanted(file)) for name, file in plain.items()})
    else:
        groups = questions.group(list(plain))
    for group in groups:
        names = sorted(name for name in group if name in plain)
        if names:
            meshes = [name for name in names if suffix(name) in rules.meshes]
            drops.append(SeenDrop("loose", stem((meshes or names)[0]), tuple(plain[name] for name in names)))
    return tuple(sorted(_unique(drops), key=lambda drop: drop.key))


def by_name(names: Sequence[str], meshes: tuple[str, ...], wanted: dict[str, tuple[str, ...]]) -> list[list[str]]:
    """Groups of loose file names that belong together.

    1. what a mesh refers to by name joins it, and meshes that share such a file join each other;
    2. a file whose name begins with the stem of a mesh joins it (the longest such stem wins);
    3. what is left joins by the first field of its name, so that two mended maps of one prop come together.
    """
    group_of = {name: name for name in names}

    def top(name: str) -> str:
        while group_of[name] != name:
            name = group_of[name]
        return name

    def join(first: str, second: str) -> None:
        low, high = sorted((top(first), top(second)))
        group_of[high] = low

    ordered = sorted(names)
    mesh_names = [name for name in ordered if suffix(name) in meshes]
    referred: set[str] = set()
    for mesh in mesh_names:
        for text in wanted.get(mesh, ()):
            if text in group_of and text != mesh:
                join(mesh, text)
                referred.add(text)
    stems = sorted(((stem(mesh), mesh) for mesh in mesh_names), key=lambda pair: (-len(pair[0]), pair))
    left: dict[str, str] = {}
    for name in ordered:
        if name in referred:
            continue
        mine = stem(name)
        home = next(
            (m for s, m in stems if m != name and (mine == s or (mine.startswith(s) and not mine[len(s)].isalnum()))),
            "",
        )
        if home:
            join(home, name)
        elif name not in mesh_names:
            join(left.setdefault(first_field(name), name), name)
    groups: dict[str, list[str]] = {}
    for name in ordered:
        groups.setdefault(top(name), []).append(name)
    return list(groups.values())


def stem(path: str) -> str:
    """File name up to its first dot, or the whole name when it begins with the dot."""
    name = PurePosixPath(path).name
    return name.split(".", 1)[0] or name


def suffix(path: str) -> str:
    """Last suffix in lower case, with its dot."""
    return PurePosixPath(path).suffix.lower()


def first_field(path: str) -> str:
    """Stem up to the first character that is neither letter nor digit."""
    text = stem(path)
    end = next((at for at, c in enumerate(text) if not c.isalnum()), len(text))
    return text[:end] or text


def _under(folder: str, paths: tuple[str, ...]) -> tuple[str, ...]:
    return tuple(path for path in paths if path.startswith(folder + "/"))


def _unique(drops: list[SeenDrop]) -> list[SeenDrop]:
    """Two loose groups may share a stem: the later ones take the full name of their first file."""
    seen: set[tuple[str, str]] = set()
    unique = []
    for drop in drops:
        name = drop.name
        if drop.key in seen:
            name = drop.files[0].path.replace("/", "_")
        unique.append(SeenDrop(drop.kind, name, drop.files, drop.partial, drop.odd))
        seen.add((drop.kind, name))
    return unique
