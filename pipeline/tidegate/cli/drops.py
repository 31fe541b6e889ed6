"""Which drops the paths of a command line mean."""

from __future__ import annotations

import os
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from tidegate.cli.options import near_path
from tidegate.errors import AskedWrongly

if TYPE_CHECKING:
    from tidegate.model.name_scheme import NameScheme
    from tidegate.model.prop import Drop, DropFile


def drops_of(paths: Sequence[str], scheme: NameScheme) -> list[Drop]:
    """A drop for every folder, and one for all files named that lie in one folder.

    A folder in which several folders hold meshes, and that holds none itself, is a folder of drops: each one inside is
    a drop of its own. So is every folder that a gate handed over, wherever it lies, without our ticket behind its name.
    Raises AskedWrongly for a path that is not there, before anything is judged.
    """
    from tidegate.load.listing import list_drop

    files: dict[Path, list[Path]] = {}
    folders: list[Path] = []
    for text in paths:
        path = Path(text)
        if path.is_dir():
            folders.extend(_drop_folders(path))
        elif path.exists():
            files.setdefault(path.parent, []).append(path)
        else:
            raise AskedWrongly(
                "there is no such file or folder", path=text, help=near_path(path) or "check the spelling"
            )
    drops = [list_drop(group[0] if len(group) == 1 else group, scheme) for group in files.values()]
    return drops + [list_drop(folder, scheme, name=_own_name(folder)) for folder in folders]


def shut(drop: Drop) -> list[DropFile]:
    """The folders of a drop, itself perhaps, that could not be listed: that is not the same as empty."""
    from tidegate.load.listing import NOT_LISTED

    return [file for file in drop.files if file.note.startswith(NOT_LISTED)]


def _own_name(folder: Path) -> str:
    """The name of a folder as its artist gave it: a returned one carries our ticket behind it. "" as it stands."""
    from tidegate.gate.handed import read

    record = read(folder)
    return folder.name.removesuffix(f"-{record.ticket}") if record is not None else ""


def _drop_folders(folder: Path) -> Iterator[Path]:
    from tidegate.gate.handed import read
    from tidegate.load.listing import MESH_SUFFIXES

    # One that may not be read is listed as a drop, which tells so and keeps no other from being judged.
    if not os.access(folder, os.R_OK | os.X_OK) or read(folder) is not None:
        yield folder
        return
    inside = sorted(path for path in folder.iterdir() if not path.name.startswith(".tidegate-"))
    own = [path for path in inside if path.is_file() and path.name.lower().endswith(tuple(MESH_SUFFIXES))]
    holding = [path for path in inside if path.is_dir() and not path.is_symlink() and _holds_drops(path, MESH_SUFFIXES)]
    if own or not holding or (len(holding) == 1 and not _handed_over_below(holding[0])):
        yield folder
        return
    for one in holding:
        yield from _drop_folders(one)


def _holds_drops(folder: Path, suffixes: Sequence[str]) -> bool:
    """Whether a mesh lies somewhere in a folder. One that may not be listed counts: passed over, it would be judged by nobody."""
    shut: list[OSError] = []
    walked = os.walk(folder, onerror=shut.append)
    return any(name.lower().endswith(tuple(suffixes)) for _, _, names in walked for name in names) or bool(shut)


def _handed_over_below(folder: Path) -> bool:
    from tidegate.gate.handed import RECORD

    return any(RECORD in names for _, _, names in os.walk(folder))
