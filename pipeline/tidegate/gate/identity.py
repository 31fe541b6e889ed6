"""Whose a delivered prop is, and whether a new version of it may be made."""

from __future__ import annotations

import os
import re
from dataclasses import dataclass
from pathlib import Path

from . import handed
from .handed import Handed
from .names import same_to_some

VERSION = re.compile(r"v(\d{3,})\Z")


@dataclass(frozen=True, slots=True)
class Refusal:
    """Why a prop must not be delivered. check: name of the finding it becomes. path: what stands in the way."""

    check: str
    message: str
    path: str


@dataclass(frozen=True, slots=True)
class Deliveries:
    """A delivery tree, read on demand. Can be pickled; reads the disk, changes nothing.

    raising: a record that is there and cannot be read raises its OSError. Passed over, it would let another owner have the
    name, or an older version count as the newest.
    """

    delivery: Path
    raising: bool = False

    def prop_folder(self, place: tuple[str, ...], prop: str) -> Path:
        return self.delivery.joinpath(*place, prop)

    def versions(self, place: tuple[str, ...], prop: str) -> tuple[tuple[int, Path], ...]:
        """(number, folder) of every version, oldest first. A folder without our record is a name taken by others."""
        return versions_in(self.prop_folder(place, prop))

    def newest(self, place: tuple[str, ...], prop: str) -> tuple[Path, Handed] | None:
        """The newest version that carries our record."""
        for _, folder in reversed(self.versions(place, prop)):
            if record := handed.read(folder, raising=self.raising):
                return folder, record
        return None

    def owner_of(self, place: tuple[str, ...], prop: str) -> str | None:
        """Owner of the newest version, None when the name is free."""
        newest = self.newest(place, prop)
        return newest[1].owner if newest else None

    def refusal(
        self, place: tuple[str, ...], prop: str, owner: str, version: str, content: tuple[tuple[str, str], ...]
    ) -> Refusal | None:
        """Why these files must not become the next version of the prop, or None.

        content: (path, sha256) of the artist's files, sorted. In this order:
        `name-taken`: another owner delivers under this name;
        `name-differs-in-case`: a neighbour's name is the same to file systems that fold case or normalise;
        `version-not-raised`: the file names carry a version field, the content changed, and the field is not higher than
        the newest version's. (Our own v001, v002 .. count hand-overs and need not equal the field, which the record
        keeps beside it. Names without a version field are under no such rule.)
        """
        home = self.prop_folder(place, prop)
        newest = self.newest(place, prop)
        if newest and newest[1].owner != owner:
            return Refusal("name-taken", f"the name {prop} belongs to {newest[1].owner or 'nobody named'}", str(home))
        for folder, name in self._steps(place, prop):
            if others := _others_like(name, _names_in(folder)):
                message = f"{name} differs from {others[0]}, which is there, only in upper and lower case or accents"
                return Refusal("name-differs-in-case", message, str(folder / others[0]))
        if newest and newest[1].content != content:
            came, before = version_number(version), version_number(newest[1].file_version)
            if came is not None and before is not None and came <= before:
                message = f"the content changed but the version went from {newest[1].file_version} to {version}"
                return Refusal("version-not-raised", message, str(newest[0]))
        return None

    def _steps(self, place: tuple[str, ...], prop: str) -> list[tuple[Path, str]]:
        parts = (*place, prop)
        return [(self.delivery.joinpath(*parts[:count]), part) for count, part in enumerate(parts)]


def versions_in(folder: Path) -> tuple[tuple[int, Path], ...]:
    """(number, folder) of every name that reads as a version, sorted by number."""
    found = [(int(match[1]), folder / name) for name in _names_in(folder) if (match := VERSION.fullmatch(name))]
    return tuple(sorted(found))


def version_number(text: str) -> int | None:
    """The number in a version field ("v003", "3", "v12"), None when it holds none."""
    match = re.fullmatch(r"\D*(\d{1,9})", text, re.ASCII)
    return int(match[1]) if match else None


def _others_like(name: str, names: list[str]) -> list[str]:
    """Those that are the same as `name` to some file systems, and not it, sorted. A tree may hold thousands."""
    wanted = same_to_some(name)
    together = "\0".join(["", *names, ""])
    if together.isascii() and f"\0{wanted}\0" not in together.lower():
        return []  # the daily case, told in one pass and not name by name
    like = [each for each in names if (each.lower() if each.isascii() else same_to_some(each)) == wanted]
    return sorted(each for each in like if each != name)


def _names_in(folder: Path) -> list[str]:
    try:
        return os.listdir(folder)
    except (FileNotFoundError, NotADirectoryError):
        return []
