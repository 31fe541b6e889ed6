"""Pictures: which islands are painted on the same texels, over all meshes and materials of one role."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace

import numpy as np

from tidegate.measure.driving import Driving
from tidegate.measure.islands import LaidOut
from tidegate.measure.palette import is_palette
from tidegate.model.facts import IslandColumns, PartFacts, Picture

FIRST_TILE = 1001


def pictures_of(
    parts: Sequence[PartFacts], columns: IslandColumns, layouts: Sequence[LaidOut], *, ordered: bool = False
) -> tuple[Picture, ...]:
    """Every picture, sorted by role, key, UV layer and tile. ordered: the size of maps that are not there was ordered.

    A map that comes in UDIM tiles gives one picture a tile. Any other map is one picture that repeats: islands beyond
    0-1 are painted from the same texels.
    """
    groups: dict[tuple[str, str, int, int], list[tuple[LaidOut, np.ndarray]]] = {}
    # Islands stand in order of part and layer, so those of one layout are one run of rows.
    owner = columns.part.astype(np.int64) << 32 | columns.uv_layer
    for layout in layouts:
        key_of = np.int64(layout.part) << 32 | layout.layer
        rows = np.arange(np.searchsorted(owner, key_of, "left"), np.searchsorted(owner, key_of, "right"))
        if not len(rows):
            continue
        tiles = columns.tile[rows] if layout.driving.by_tile else np.full(len(rows), FIRST_TILE)
        for tile in sorted(set(tiles.tolist())):
            key = (parts[layout.part].role, layout.driving.key, layout.layer, int(tile))
            groups.setdefault(key, []).append((layout, rows[tiles == tile]))
    pictures = {key: _picture(key, groups[key]) for key in sorted(groups)}
    mapped = {key[0] for key, picture in pictures.items() if not picture.assumed}
    return tuple(
        replace(
            picture,
            palette=is_palette(columns, picture),
            bare=_is_bare(key, groups[key], mapped),
            ordered=ordered and picture.assumed,
        )
        for key, picture in pictures.items()
    )


def _is_bare(key: tuple[str, str, int, int], members: list[tuple[LaidOut, np.ndarray]], mapped: set[str]) -> bool:
    """No map is named: a further UV layer, or a plain color beside materials of the role that have maps. A prop without
    any map at all is judged as one whose maps are still to be painted."""
    role, _, layer, _ = key
    return not members[0][0].driving.stated and (layer > 0 or role in mapped)


def _files_of(driving: Driving, tile: int) -> Iterator[tuple[str, str]]:
    """(slot, file) of the maps of a tile; of a map that comes in no tiles, all."""
    for slot, file in driving.files:
        if not driving.by_tile or not driving.tiles.get(file, frozenset()).isdisjoint((tile, None)):
            yield slot, file


def _picture(key: tuple[str, str, int, int], members: list[tuple[LaidOut, np.ndarray]]) -> Picture:
    role, name, layer, tile = key
    driving = members[0][0].driving
    width, height = driving.size(tile)
    files = sorted({pair for layout, _ in members for pair in _files_of(layout.driving, tile)})
    return Picture(
        key=name if not driving.by_tile else f"{name} tile {tile}",
        uv_layer=layer,
        tile=tile,
        width=width,
        height=height,
        assumed=driving.assumed,
        driving_slot=driving.slot,
        files=tuple(files),
        parts=tuple(sorted({layout.part for layout, _ in members})),
        islands=np.sort(np.concatenate([rows for _, rows in members])).astype(np.int64),
        role=role,
        variant=driving.variant,
        repeats=not driving.by_tile,
        wrap=driving.wrap,
    )
