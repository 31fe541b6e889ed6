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
    from tidegate.model.prop import Drop


def drops_of(paths: Sequence[str], scheme: NameScheme) -> list[Drop]:
    """A drop for every folder, and one for all files named that lie in one folder.

    A folder in which several folders hold meshes, and that holds none itself, is a folder of drops: each one inside is
    a drop of its own. Raises AskedWrongly for a path that is not there, before anything is judged.
    """
    from tidegate.load.listing import list_drop

    files: dict[Path, list[Path]] = {}
    folders: list[Path] = []
    for text in paths:
        if not text:
            raise AskedWrongly("an empty path names nothing", help="`.` is the folder you stand in")
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
    return drops + [list_drop(folder, scheme) for folder in folders]


def _drop_folders(folder: Path) -> Iterator[Path]:
    from tidegate.load.listing import MESH_SUFFIXES

    def has_mesh(one: Path) -> bool:
        return any(name.lower().endswith(tuple(MESH_SUFFIXES)) for _, _, names in os.walk(one) for name in names)

    inside = sorted(folder.iterdir())
    own = [path for path in inside if path.is_file() and path.name.lower().endswith(tuple(MESH_SUFFIXES))]
    holding = [path for path in inside if path.is_dir() and not path.is_symlink() and has_mesh(path)]
    if own or len(holding) < 2:
        yield folder
        return
    for one in holding:
        yield from _drop_folders(one)
