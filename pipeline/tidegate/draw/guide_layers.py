"""The layers of a guide sheet, each worked out once however many files it goes into."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray
from PIL import Image, ImageDraw

from tidegate.draw.bleed_zone import bleed_zone
from tidegate.draw.dashes import dashed
from tidegate.draw.edges import Edges, edges_of
from tidegate.draw.guide_signs import Number, markers_in, numbers_in
from tidegate.draw.inner_points import InnerPoints, inner_points
from tidegate.draw.lines import line_coverage
from tidegate.draw.placed import Placed, place
from tidegate.draw.text import font
from tidegate.geometry.raster import owners
from tidegate.geometry.repeated import other_tiles
from tidegate.geometry.segments import within_box
from tidegate.geometry.tiles import SEEN
from tidegate.model.facts import Facts, Picture
from tidegate.model.selection import repeating
from tidegate.model.view import whole_tile

OUTLINE_TIMES = 2.0
"""How much wider outlines of islands are than edges inside them."""
MOST_COPIES = 4_000_000
"""Triangles or lines beyond the borders that are drawn where they come in again. A layout that repeats its map more often is
drawn without them: it covers everything."""
MOST_MAPS = 32
"""How often triangles may cover the map, all in all, and still be drawn where they come in again; as above."""
_SURVEY = 1024  # texels a side at which places for numbers are looked for


class Shown(NamedTuple):
    """Triangles of a sheet: corners (3, 2, m) in texels, and the island row of each."""

    pixels: NDArray[np.float64]
    row: NDArray[np.int32]


@dataclass(eq=False)
class GuideLayers:
    """One guide sheet in the making. rows: island rows on it. width, height: texels. line: width of inner edges in texels.
    bleed: texels of the bleed zone, 0 for none."""

    facts: Facts
    picture: Picture
    rows: NDArray[np.int64]
    width: int
    height: int
    line: float = 1.0
    bleed: int = 0

    @cached_property
    def placed(self) -> Placed:
        """Triangles in texels."""
        return place(self.facts, self.picture, whole_tile(self.width, self.height), self.rows)

    @cached_property
    def shown(self) -> Shown:
        """Triangles in texels, with those that come in again over a border at which the map repeats."""
        pixels, row = self.placed.pixels, self.placed.row
        more = self._copies(pixels)
        if more is None:
            return Shown(pixels, row)
        return Shown(np.concatenate([pixels, more[1]], axis=2), np.concatenate([row, row[more[0]]]))

    def _copies(self, columns: NDArray[np.float64]) -> tuple[NDArray[np.int64], NDArray[np.float64]] | None:
        """What comes in again over a border of these corners (c, 2, m) in texels: which, and where. None for nothing."""
        if self._inside or not any(self.repeating) or self._maps_covered > MOST_MAPS:
            return None
        more = other_tiles(columns, (self.width, self.height), self.repeating, most=MOST_COPIES)
        return more if more is not None and len(more[0]) else None

    @cached_property
    def _inside(self) -> bool:
        """Whether every island lies in its tile whole."""
        return self.facts.islands is None or bool(self.facts.islands.inside[self.rows].all())

    @cached_property
    def _maps_covered(self) -> float:
        """How many maps the islands would fill side by side."""
        assert self.facts.islands is not None
        return float(self.facts.islands.uv_area[self.rows].sum())

    @property
    def repeating(self) -> tuple[bool, bool]:
        """Whether what lies beyond a border is painted at the other end of the sheet, across and up."""
        return repeating(self.picture)

    @property
    def clipped(self) -> int:
        """Islands of which something lies beyond a border and comes in nowhere: it is not on the sheet."""
        columns = self.facts.islands
        assert columns is not None
        box = columns.bounds[self.rows] - np.tile(columns.corner[self.rows], 2)
        if len(self.shown.row) == len(self.placed.row):  # nothing repeats, or too much
            return int((~columns.inside[self.rows]).sum())
        size = np.tile([self.width, self.height], 2)
        beyond = (box * size < -SEEN) | (box * size > size + SEEN)
        ends = ~np.tile(np.array(self.repeating), 2)
        return int((beyond & ends).any(axis=1).sum())

    @cached_property
    def edges(self) -> Edges:
        """Lines in texels, with those that come in again over a border."""
        edges = edges_of(self.placed)
        outline, which = self._with_copies(edges.outline)
        inner, _ = self._with_copies(edges.inner)
        return Edges(outline, inner, edges.owner[which], edges.seam[which])

    def _with_copies(self, segments: NDArray[np.float64]) -> tuple[NDArray[np.float64], NDArray[np.int64]]:
        """Segments (4, s) and their copies as far as they lie on the sheet or reach onto it, and which one each is."""
        itself = np.arange(segments.shape[1])
        if self._inside:
            return segments, itself
        more = self._copies(segments.reshape(2, 2, -1))
        if more is not None:
            segments = np.concatenate([segments, more[1].reshape(4, -1)], axis=1)
            itself = np.concatenate([itself, more[0]])
        beyond = self.bleed + 4 * OUTLINE_TIMES * self.line
        pieces, kept = within_box(segments, (-beyond, -beyond), (self.width + beyond, self.height + beyond))
        return pieces, itself[kept]

    @cached_property
    def zone_edges(self) -> NDArray[np.float64]:
        """Outlines (4, s) from which the bleed zone reaches onto the sheet, around the borders too where the map repeats."""
        outline = self.edges.outline
        found = [outline]
        across, up = self.repeating
        for right in (-1, 0, 1) if across else (0,):
            for down in (-1, 0, 1) if up else (0,):
                if right or down:
                    moved = outline + np.array([right * self.width, down * self.height] * 2)[:, None]
                    low, high = np.minimum(moved[:2], moved[2:]), np.maximum(moved[:2], moved[2:])
                    near = (high > -self.bleed).all(axis=0) & (low[0] < self.width + self.bleed)
                    found.append(moved[:, near & (low[1] < self.height + self.bleed)])
        return np.concatenate(found, axis=1)

    @cached_property
    def outline_segments(self) -> NDArray[np.float64]:
        """Outlines: drawn through where the surface was cut, dashed where it ends."""
        dash = 4 * OUTLINE_TIMES * self.line
        edges = self.edges
        open_ends = dashed(edges.outline[:, ~edges.seam], dash, 0.75 * dash)
        return np.concatenate([edges.outline[:, edges.seam], open_ends], axis=1)

    @cached_property
    def wire(self) -> NDArray[np.uint8]:
        """(height, width) coverage of all lines in 255ths."""
        wire = line_coverage(self.edges.inner, self.line, self.width, self.height)
        outline = line_coverage(self.outline_segments, OUTLINE_TIMES * self.line, self.width, self.height)
        return np.maximum(wire, outline, out=wire)

    @cached_property
    def owner(self) -> NDArray[np.int32]:
        """(height, width) island row of every texel, -1 for none."""
        return owners(self.shown.pixels, self.shown.row, self.width, self.height)

    @cached_property
    def zone(self) -> NDArray[np.bool_]:
        """(height, width) texels of the bleed zone."""
        return bleed_zone(self.owner >= 0, self.bleed, self.repeating)

    @cached_property
    def inner(self) -> InnerPoints:
        """A place inside every island, in texels."""
        scale = max(1.0, max(self.width, self.height) / _SURVEY)
        wide, high = max(1, round(self.width / scale)), max(1, round(self.height / scale))
        size = np.array([wide / self.width, high / self.height])
        count = len(self.facts.islands) if self.facts.islands is not None else 0
        found = inner_points(owners(self.shown.pixels * size[None, :, None], self.shown.row, wide, high), count)
        return InnerPoints(
            found.x / size[0], found.y / size[1], (found.reach_x - 1) / size[0], (found.reach_y - 1) / size[1]
        )

    @cached_property
    def numbers(self) -> tuple[Number, ...]:
        """Numbers of the islands that have room for one beside their marker."""
        return numbers_in(self.rows, self.inner, self.width)

    @property
    def unnumbered(self) -> int:
        """Islands too small for a number at this size."""
        return len(self.rows) - len(self.numbers)

    @cached_property
    def marker_segments(self) -> NDArray[np.float64]:
        """Markers of the islands that have room for one, as lines."""
        assert self.facts.islands is not None
        return markers_in(self.rows, self.inner, self.facts.islands, self.width, 4 * self.line)

    @cached_property
    def signs(self) -> NDArray[np.uint8]:
        """(height, width) coverage of markers and numbers in 255ths."""
        return self._signs(0.0)

    @cached_property
    def halo(self) -> NDArray[np.uint8]:
        """(height, width) coverage of the ground laid around markers and numbers, so that they can be read on the wire."""
        return self._signs(self.halo_width)

    @property
    def halo_width(self) -> float:
        """Texels of the halo on every side."""
        return max(1.0, round(max(self.width, self.height) / 700))

    def _signs(self, wider: float) -> NDArray[np.uint8]:
        lines = line_coverage(self.marker_segments, 1.5 * self.line + 2.0 * wider, self.width, self.height)
        image = Image.fromarray(lines)
        draw = ImageDraw.Draw(image)
        for number in self.numbers:
            at = (number.x, number.y)
            draw.text(at, number.text, 255, font(number.size), anchor="mm", stroke_width=round(wider))
        return np.asarray(image)
