"""The files of a drop while it is read: names, headers and hashes, each found out once, and where references lead."""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from dataclasses import replace
from pathlib import Path, PurePosixPath

from tidegate.errors import UnreadableFile
from tidegate.model.image_header import ImageHeader
from tidegate.model.mesh import MeshFile
from tidegate.model.name_scheme import NameReading, NameScheme
from tidegate.model.portable_names import comparable
from tidegate.model.prop import Drop, DropFile

from .hashing import hashed

FOUND = ("present", "wrong-case", "outside")
"""Statuses of references whose `path`, if any, names a file to bind."""

HeaderReader = Callable[[Path | bytes, str], ImageHeader]

_TILE_TOKEN = re.compile(r"<udim>", re.IGNORECASE)


class DropFiles:
    """files: those of the drop by path, reports of ours left out. However many props share a file, it is read once."""

    def __init__(self, drop: Drop, scheme: NameScheme, read_header: HeaderReader) -> None:
        self.files = {file.path: file for file in drop.files if file.kind != "report"}
        self._scheme = scheme
        self._read_header = read_header
        self._headers: dict[str, ImageHeader] = {}
        self._names: dict[tuple[str, str, tuple[str, ...]], NameReading] = {}

    def flat_and_layered(
        self, pictures: Sequence[DropFile], referenced: set[str], assets: tuple[str, ...]
    ) -> tuple[list[DropFile], list[DropFile]]:
        """Flat maps and layered masters. A picture that a mesh names is a map; a suffix that may be either is a master
        when it has layers, or stands beside a flat map of the same name."""
        flat = [file for file in pictures if file.path in referenced]
        layered: list[DropFile] = []
        either: list[DropFile] = []
        for file in pictures:
            if file.path in referenced:
                continue
            if file.kind == "master":
                layered.append(file)
            elif not self._scheme.is_master(file.path):
                flat.append(file)
            elif self.header(file.path).layers > 1:
                layered.append(file)
            else:
                either.append(file)
        taken = {self.identity(file.path, "map", assets) for file in flat}
        for file in either:
            beside = self.identity(file.path, "map", assets) in taken
            (layered if beside else flat).append(file)
        return sorted(flat, key=lambda f: f.path), sorted(layered, key=lambda f: f.path)

    def name(self, path: str, kind: str, assets: tuple[str, ...]) -> NameReading:
        key = (path, kind, assets)
        if key not in self._names:
            self._names[key] = self._scheme.read(PurePosixPath(path).name, kind, path, assets)
        return self._names[key]

    def identity(self, path: str, kind: str, assets: tuple[str, ...]) -> tuple[str, ...]:
        """What a map and its master have in common."""
        reading = self.name(path, kind, assets)
        asset = reading.field("asset") or (assets[0] if len(assets) == 1 else "")
        return (comparable(asset), *(reading.field(name) for name in ("variant", "map", "tile")))

    def pictures_of(self, mesh: MeshFile) -> list[str]:
        return [
            path
            for number, reference in enumerate(mesh.references)
            if reference.kind == "image" and reference.status in FOUND
            for path in self.files_of(mesh, number)
        ]

    def with_tiles(self, mesh: MeshFile) -> MeshFile:
        """References that name a set of UDIM tiles by the token `<UDIM>` lead to its first tile, when one is there."""
        changed = tuple(
            replace(reference, status="present", path=tiles[0])
            if reference.status == "missing" and (tiles := self._tiles(reference.text))
            else reference
            for reference in mesh.references
        )
        return replace(mesh, references=changed)

    def _tiles(self, text: str) -> list[str]:
        """Maps of the drop that stand for a name with the token in it."""
        name = text.replace("\\", "/").rsplit("/", 1)[-1]
        if not _TILE_TOKEN.search(name):
            return []
        pattern = re.compile(r"1\d{3}".join(re.escape(piece) for piece in _TILE_TOKEN.split(name)))
        return sorted(path for path in self.files if pattern.fullmatch(PurePosixPath(path).name))

    def files_of(self, mesh: MeshFile, number: int) -> list[str]:
        """Maps that a reference leads to: none, one, or the tiles of a set."""
        if not 0 <= number < len(mesh.references):
            return []
        reference = mesh.references[number]
        if reference.status not in FOUND or not reference.path:
            return []
        return self._tiles(reference.text) or [reference.path]

    def header(self, path: str) -> ImageHeader:
        return self.header_at(Path(self.files[path].location), path)

    def header_at(self, place: Path, path: str) -> ImageHeader:
        if path not in self._headers:
            try:
                self._headers[path] = self._read_header(place, PurePosixPath(path).name)
            except UnreadableFile as fault:
                size = self.files[path].bytes if path in self.files else 0
                self._headers[path] = ImageHeader("", size, problem="damaged", problem_detail=fault.what)
        return self._headers[path]

    def header_of_bytes(self, blob: bytes, name: str) -> ImageHeader:
        try:
            return self._read_header(blob, "")
        except UnreadableFile as fault:
            return ImageHeader("", len(blob), problem="damaged", problem_detail=f"{name}: {fault.what}")

    def hashed(self, path: str) -> DropFile:
        self.files[path] = hashed(self.files[path])
        return self.files[path]
