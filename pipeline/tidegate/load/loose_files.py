"""Which loose files belong together: by what meshes name and by the fields of their names."""

from __future__ import annotations

import os
from collections.abc import Callable, Sequence
from pathlib import Path, PurePosixPath
from typing import TYPE_CHECKING

from tidegate.model.portable_names import comparable

from .listing import ignored, kind_of
from .named_files import named_files

if TYPE_CHECKING:
    from tidegate.model.name_scheme import NameScheme

_PICTURES = ("map", "master")


def group_loose(
    names: Sequence[str],
    root: Path,
    scheme: NameScheme | None = None,
    named: Callable[[Path], Sequence[str]] = named_files,
) -> list[list[str]]:
    """Groups of files that lie loose in one folder, each group and all groups sorted.

    names: relative to root. A mesh and what it names are one group, and so are meshes that name the same file. Of the
    other files those join whose names state the asset of a mesh, or the same asset; then those with a mesh's stem.
    named: tells which files a mesh names.
    """
    ordered = sorted(set(names))
    joined = _Joined(ordered)
    kinds = {name: kind_of(name, scheme) for name in ordered}
    meshes = [name for name in ordered if kinds[name] == "mesh"]
    by_bare_name: dict[str, list[str]] = {}
    for name in ordered:
        by_bare_name.setdefault(comparable(PurePosixPath(name).name), []).append(name)
    for mesh in meshes:
        for text in named(root / mesh):
            for other in by_bare_name.get(comparable(text.rsplit("/", 1)[-1]), ()):
                joined.join(mesh, other)
    assets = _mesh_assets(meshes, scheme)
    first_of: dict[str, str] = {}
    for mesh in meshes:
        joined.join(first_of.setdefault(assets[mesh], mesh), mesh)
    stems = {comparable(PurePosixPath(mesh).stem): mesh for mesh in reversed(meshes)}
    known = tuple(dict.fromkeys(assets.values()))
    for name in ordered:
        if kinds[name] in _PICTURES:
            asset = _asset(name, kinds[name], scheme, known)
            joined.join(first_of.setdefault(asset, name), name)
        elif kinds[name] != "mesh":
            home = stems.get(comparable(PurePosixPath(name).stem)) or stems.get(comparable(_first_stem(name)))
            if home:
                joined.join(home, name)
    return joined.groups()


def companions(mesh: Path, scheme: NameScheme | None, ignore: Sequence[str]) -> list[str]:
    """Files that belong to one mesh file: those it names, and those of its folder whose names state its asset.

    Of other meshes only those in another role, such as levels of detail: one in the same role, as the same stem in
    another format or version, is another file to ask about.
    Relative to the folder of the mesh, sorted. Only what lies in that folder or below it.
    """
    folder = mesh.parent
    try:
        siblings = sorted(
            entry.name
            for entry in os.scandir(folder)
            if not entry.is_dir(follow_symlinks=False) and not ignored(entry.name, ignore)
        )
    except OSError:
        siblings = []
    found: set[str] = set()
    bare = {comparable(name): name for name in reversed(siblings)}
    for text in named_files(mesh):
        near = bare.get(comparable(text.rsplit("/", 1)[-1]))
        inside = ".." not in text.split("/") and not text.startswith("/") and ":" not in text
        if inside and _is_file(folder / text):
            found.add(text)
        elif near:
            found.add(near)
    kinds = {name: kind_of(name, scheme) for name in siblings}
    assets = _mesh_assets([name for name in siblings if kinds[name] == "mesh"], scheme)
    own = assets.get(mesh.name, comparable(mesh.stem))
    known = tuple(dict.fromkeys(assets.values()))
    found.update(_other_roles(mesh, [name for name, asset in assets.items() if asset == own], scheme))
    for name in siblings:
        if kinds[name] == "mesh":
            continue
        if kinds[name] in _PICTURES and _asset(name, kinds[name], scheme, known) == own:
            found.add(name)
    found.discard(mesh.name)
    return sorted(found)


def _other_roles(mesh: Path, meshes: Sequence[str], scheme: NameScheme | None) -> set[str]:
    """The meshes of one asset that are in another role than `mesh`, a role each, in the format of `mesh` if there is one."""
    best: dict[str, str] = {}
    for name in sorted(meshes, key=lambda name: (Path(name).suffix.lower() != mesh.suffix.lower(), name)):
        best.setdefault(_role(name, scheme), name)
    best.pop(_role(mesh.name, scheme), None)
    return set(best.values())


def _role(name: str, scheme: NameScheme | None) -> str:
    role = scheme.read(name, "mesh", name).field("role") if scheme is not None else ""
    return role or "model"


def _mesh_assets(meshes: Sequence[str], scheme: NameScheme | None) -> dict[str, str]:
    """Asset of each mesh name, in comparable form. A second reading knows the assets of the first."""
    first = {mesh: _asset(mesh, "mesh", scheme, ()) for mesh in meshes}
    return {
        mesh: _asset(mesh, "mesh", scheme, tuple(dict.fromkeys(a for m, a in first.items() if m != mesh)))
        for mesh in meshes
    }


def _asset(name: str, kind: str, scheme: NameScheme | None, known: tuple[str, ...]) -> str:
    plain = PurePosixPath(name).name
    asset = scheme.read(plain, kind, name, known).field("asset") if scheme is not None else ""
    if not asset and kind in _PICTURES and len(known) == 1:
        return known[0]  # a map whose name states no asset belongs to the only one there is
    return comparable(asset or PurePosixPath(plain).stem)


def _first_stem(name: str) -> str:
    """Name up to its first dot, so that `crate.obj.mtl` goes with `crate.obj`."""
    plain = PurePosixPath(name).name
    return plain.split(".", 1)[0] or plain


def _is_file(place: Path) -> bool:
    try:
        return place.is_file()
    except (OSError, ValueError):
        return False


class _Joined:
    """Names joined into groups (union-find; the smallest name stands for its group)."""

    def __init__(self, names: Sequence[str]) -> None:
        self._parent = {name: name for name in names}

    def _top(self, name: str) -> str:
        while self._parent[name] != name:
            self._parent[name] = self._parent[self._parent[name]]
            name = self._parent[name]
        return name

    def join(self, one: str, other: str) -> None:
        low, high = sorted((self._top(one), self._top(other)))
        self._parent[high] = low

    def groups(self) -> list[list[str]]:
        found: dict[str, list[str]] = {}
        for name in self._parent:
            found.setdefault(self._top(name), []).append(name)
        return sorted(sorted(group) for group in found.values())
