"""Maps of a prop that lie in the read-only library folders, found by their names."""

from __future__ import annotations

import os
from collections.abc import Iterator, Sequence
from pathlib import Path

from tidegate.model.name_field import spelling_key

from .listing import kind_of

_MOST_ENTRIES = 200_000  # entries looked at in one library, so that a wrongly configured one cannot stall a gate


def library_maps(libraries: Sequence[Path], asset: str) -> list[str]:
    """Full paths of pictures in the libraries whose names begin with the words of an asset, sorted.

    A quick choice by the beginning of the name; the names scheme decides later. Links are not followed.
    """
    wanted = "".join(spelling_key(asset))
    found: list[str] = []
    for library in libraries if wanted else ():
        found += [
            path for path in _files(library) if kind_of(path) == "map" and _squeezed(path.rsplit("/", 1)[-1], wanted)
        ]
    return sorted(found)


def _squeezed(name: str, wanted: str) -> bool:
    return "".join(spelling_key(name)).startswith(wanted)


def _files(library: Path) -> Iterator[str]:
    seen = 0
    for folder, folders, names in os.walk(library):
        folders.sort()
        for name in sorted(names):
            seen += 1
            if seen > _MOST_ENTRIES:
                return
            place = Path(folder) / name
            if not place.is_symlink():
                yield place.as_posix()
