"""Guide sheets of a prop: one for every UV layer, tile and picture, to paint over."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import PurePosixPath

import numpy as np
from numpy.typing import NDArray

from tidegate.draw.guide_layers import GuideLayers
from tidegate.model.facts import Facts, Picture
from tidegate.model.file_stem import file_stem


def guide_sheets(
    facts: Facts, size: int | None = None, *, line: float = 1.0, bleed: int = 0
) -> Iterator[tuple[str, GuideLayers]]:
    """(file name without its ending, sheet). size: texels of the longer side, None for that of the map.

    Needs the facts `islands` and `upright`. Where no map says that islands beyond the tile repeat it, every tile they lie
    in gets its own sheet.
    """
    taken: set[str] = set()
    for picture in facts.pictures:
        for tile, rows in _by_tile(facts, picture):
            width, height = _size(picture, size)
            name = _name(facts, picture, tile)
            number = 2
            unique = name
            while unique.lower() in taken:
                unique = f"{name}.{number}"
                number += 1
            taken.add(unique.lower())
            yield unique, GuideLayers(facts, picture, rows, width, height, line, bleed)


def _by_tile(facts: Facts, picture: Picture) -> list[tuple[str, NDArray[np.int64]]]:
    """Rows of the picture by the tile they are drawn on, with the tile's name, "" for the first."""
    columns = facts.islands
    assert columns is not None
    if not picture.assumed:
        return [("" if picture.repeats or picture.tile == 1001 else str(picture.tile), picture.islands)]
    corners = columns.corner[picture.islands]
    found = []
    for corner in np.unique(corners, axis=0):
        rows = picture.islands[(corners == corner).all(axis=1)]
        tile = int(columns.tile[rows[0]])
        u, v = int(corner[0]), int(corner[1])
        found.append(("" if tile == 1001 else str(tile or f"u{u}v{v}"), rows))
    return found


def _size(picture: Picture, size: int | None) -> tuple[int, int]:
    if size is None:
        return picture.width, picture.height
    longer = max(picture.width, picture.height)
    return max(1, round(size * picture.width / longer)), max(1, round(size * picture.height / longer))


def _name(facts: Facts, picture: Picture, tile: str) -> str:
    key = picture.key.removesuffix(" (placed by the material)").removesuffix(f" tile {picture.tile}")
    if not picture.assumed:
        own = PurePosixPath(dict(picture.files).get(picture.driving_slot, "")).stem
        # Of a tiled map the file of this very tile, not that of the first.
        key = own.removesuffix(f".{tile}") if tile and own.endswith(f".{tile}") else PurePosixPath(key).stem
    parts = [file_stem(facts.prop.name), "tidegate", "guide", file_stem(key.replace(" ", "_"))]
    parts += [picture.role] if picture.role != "model" else []
    parts += [f"uv{picture.uv_layer}"] if picture.uv_layer else []
    return ".".join([*parts, tile] if tile else parts)
