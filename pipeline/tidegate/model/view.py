"""The window of the tile that a picture shows, and where it lies in the picture."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from .facts import Facts, Picture

FAULT_SHEET_PX = 1024
"""Longer side of the drawn layout on a fault sheet or heat map."""
MOST_TILES = 4.0
"""A layout that reaches over more tiles is shown folded onto one tile, as it is painted."""
EDGE = 0.04
"""Room around what is shown, in parts of it, so that no mark touches the frame."""


def type_size(size: int) -> int:
    """Pixels of the text on a picture whose layout is `size` pixels: read with ease at 512 as at 4096."""
    return max(12, round(size / 66))


def margin(size: int) -> int:
    """Pixels around everything on such a picture."""
    return round(1.4 * type_size(size))


def header_height(size: int) -> int:
    """Pixels above the drawn layout, for what the picture shows."""
    return round(5.2 * type_size(size))


Box = tuple[float, float, float, float]


@dataclass(frozen=True, slots=True)
class View:
    """uv: (u0, v0, u1, v1) shown, V up. width, height: of the drawn layout in pixels, y down. left, top: where its upper
    left corner lies in the picture. folded: islands of other tiles are moved onto this one by whole tiles. tile: whole U
    and V of the tile that the numbers of `uv` start from."""

    uv: Box
    width: int
    height: int
    left: int = 0
    top: int = 0
    folded: bool = False
    tile: tuple[int, int] = (0, 0)

    @property
    def scale(self) -> tuple[float, float]:
        """Pixels per UV unit, across and up."""
        u0, v0, u1, v1 = self.uv
        return self.width / (u1 - u0), self.height / (v1 - v0)

    def pixel(self, u: float, v: float) -> tuple[float, float]:
        """Where a place of the tile lies in the drawn layout, pixels from its upper left."""
        across, up = self.scale
        return (u - self.uv[0]) * across, (self.uv[3] - v) * up

    def box(self, uv: Box) -> Box:
        """A UV box as (x0, y0, x1, y1) in the drawn layout."""
        x0, y1 = self.pixel(uv[0], uv[1])
        x1, y0 = self.pixel(uv[2], uv[3])
        return x0, y0, x1, y1


def whole_tile(width: int, height: int) -> View:
    """The tile alone, at a size in pixels."""
    return View((0.0, 0.0, 1.0, 1.0), width, height, folded=True)


def layout_view(facts: Facts, picture: Picture, size: int = FAULT_SHEET_PX) -> View:
    """The tile and whatever lies beside it, the longer side `size` pixels; texels are as wide as they are in the map.

    Below the header and inside the margin of a sheet.
    """
    columns = facts.islands
    u0 = v0 = 0.0
    u1 = v1 = 1.0
    tile = (0, 0)
    if columns is not None and len(picture.islands):
        corner, bounds = columns.corner[picture.islands], columns.bounds[picture.islands].copy()
        if not picture.repeats:
            tile = (int(corner[0, 0]), int(corner[0, 1]))
        bounds[:, 0::2] -= tile[0]
        bounds[:, 1::2] -= tile[1]
        u0, v0 = min(u0, float(bounds[:, 0].min())), min(v0, float(bounds[:, 1].min()))
        u1, v1 = max(u1, float(bounds[:, 2].max())), max(v1, float(bounds[:, 3].max()))
    folded = max(u1 - u0, v1 - v0) > MOST_TILES
    if folded:
        u0 = v0 = 0.0
        u1 = v1 = 1.0
    room = EDGE * max(u1 - u0, v1 - v0)
    uv = (u0 - room, v0 - room, u1 + room, v1 + room)
    wide, high = (uv[2] - uv[0]) * picture.width, (uv[3] - uv[1]) * picture.height
    per_texel = size / max(wide, high)
    width, height = max(1, round(wide * per_texel)), max(1, round(high * per_texel))
    return View(uv, width, height, margin(size), header_height(size), folded, tile)
