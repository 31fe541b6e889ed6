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
    help: str


@dataclass(frozen=True, slots=True)
class Offered:
    """What is to become the next version of a prop. content: (path, sha256) of the artist's files, sorted.

    version: the version field of the file names. named: see `Outcome`. ticket, gate, claimed_at: of the drop.
    """

    owner: str
    content: tuple[tuple[str, str], ...]
    version: str = ""
    named: str = ""
    ticket: str = ""
    gate: str = ""
    claimed_at: str = ""


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

    def refusal(self, place: tuple[str, ...], prop: str, offered: Offered) -> Refusal | None:
        """Why these files must not become the next version of the prop, or None. In this order:

        `name-taken`: another owner delivers under this name, or this one delivers another prop under it: names that differ
        in signs only, as `a&b` and `a#b`, give one name here. A prop may only be renamed to just that name, `a_b`, when the
        version before was handed over before these files were claimed: its report asks for that.
        `name-differs-in-case`: a neighbour's name is the same to file systems that fold case or normalise;
        `newer-delivered`: the newest version was claimed after these files were;
        `version-not-raised`: the file names carry a version field, the content changed, and the field is not higher than
        the newest version's. (Our own v001, v002 .. count hand-overs and need not equal the field, which the record
        keeps beside it. Names without a version field are under no such rule.)
        """
        home = self.prop_folder(place, prop)
        newest = self.newest(place, prop)
        if newest and newest[1].owner != offered.owner:
            message = f"the name {prop} belongs to {newest[1].owner or 'nobody named'}"
            return Refusal("name-taken", message, str(home), "choose another name, or have its owner deliver it")
        if (
            newest
            and (before := spelled_before(newest[1], offered.named))
            and not _is_renamed(newest[1], prop, offered)
        ):
            message = (
                f"{offered.named} and {before}, which was delivered as {newest[0].name}, are both called {prop} here"
            )
            help_ = f"if it is the same prop, name its files {prop}; if it is another, give it a name of other words"
            return Refusal("name-taken", message, str(newest[0]), help_)
        for folder, name in self._steps(place, prop):
            if others := _others_like(name, _names_in(folder)):
                message = f"{name} differs from {others[0]}, which is there, only in upper and lower case or accents"
                help_ = f"name it as {others[0]} is named, or choose another name"
                return Refusal("name-differs-in-case", message, str(folder / others[0]), help_)
        if newest and is_overtaken(newest[1], offered.ticket, offered.gate):
            message = (
                f"{newest[0].name} was claimed later, as {newest[1].ticket}, and delivered first: these files are older"
            )
            help_ = "nothing is needed if that one holds your change; else drop mesh and maps together again"
            return Refusal("newer-delivered", message, str(newest[0]), help_)
        if newest and newest[1].content != offered.content:
            came, last = version_number(offered.version), version_number(newest[1].file_version)
            if came is not None and last is not None and came <= last:
                message = f"the content changed but the version went from {newest[1].file_version} to {offered.version}"
                return Refusal("version-not-raised", message, str(newest[0]), "raise the version in the file names")
        return None

    def _steps(self, place: tuple[str, ...], prop: str) -> list[tuple[Path, str]]:
        parts = (*place, prop)
        return [(self.delivery.joinpath(*parts[:count]), part) for count, part in enumerate(parts)]


def is_overtaken(newest: Handed, ticket: str, gate: str) -> bool:
    """Whether a version was claimed after a ticket. Ids of other gates say nothing: they rise within a gate only."""
    return newest.gate == gate and newest.ticket > ticket


def spelled_before(newest: Handed, named: str) -> str:
    """How the files of a version spell the prop's name, where that is not how it is spelled now; "" else."""
    known = bool(named and newest.named)
    return newest.named if known and not _alike(newest.named, named) else ""


def _is_renamed(newest: Handed, prop: str, offered: Offered) -> bool:
    in_hand_together = offered.claimed_at != "" and newest.handed_at >= offered.claimed_at
    return _alike(offered.named, prop) and not in_hand_together


def _alike(one: str, other: str) -> bool:
    return same_to_some(one) == same_to_some(other)


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
