"""The layers of a guide sheet, each worked out once however many files it goes into."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray
from PIL import Image, ImageDraw

from tidegate.draw.bleed_zone import bleed_zone
from tidegate.draw.dashes import dashed
from tidegate.draw.edges import Edges, edges_of
from tidegate.draw.inner_points import InnerPoints, inner_points
from tidegate.draw.lines import line_coverage
from tidegate.draw.marker import marker
from tidegate.draw.placed import Placed, place
from tidegate.draw.text import font
from tidegate.geometry.raster import owners
from tidegate.model.facts import Facts, Picture
from tidegate.model.view import whole_tile

OUTLINE_TIMES = 2.0
"""How much wider outlines of islands are than edges inside them."""
_SURVEY = 1024  # texels a side at which places for numbers are looked for
_SMALLEST_TEXT = 9  # texels; smaller digits cannot be read


@dataclass(frozen=True, slots=True)
class Number:
    """The number of an island: text, middle in texels, height of the type in texels."""

    text: str
    x: float
    y: float
    size: int


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
    def edges(self) -> Edges:
        """Lines in texels."""
        return edges_of(self.placed)

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
        return owners(self.placed.pixels, self.placed.row, self.width, self.height)

    @cached_property
    def zone(self) -> NDArray[np.bool_]:
        """(height, width) texels of the bleed zone."""
        return bleed_zone(self.owner >= 0, self.bleed)

    @cached_property
    def inner(self) -> InnerPoints:
        """A place inside every island, in texels."""
        scale = max(1.0, max(self.width, self.height) / _SURVEY)
        wide, high = max(1, round(self.width / scale)), max(1, round(self.height / scale))
        size = np.array([wide / self.width, high / self.height])
        count = len(self.facts.islands) if self.facts.islands is not None else 0
        found = inner_points(owners(self.placed.pixels * size[None, :, None], self.placed.row, wide, high), count)
        return InnerPoints(
            found.x / size[0], found.y / size[1], (found.reach_x - 1) / size[0], (found.reach_y - 1) / size[1]
        )

    @cached_property
    def numbers(self) -> tuple[Number, ...]:
        """Numbers of the islands that have room for one beside their marker."""
        found = []
        for row in self.rows:
            text = str(int(row) + 1)
            reach_x, reach_y = float(self.inner.reach_x[row]), float(self.inner.reach_y[row])
            # The number takes the middle of the lower half, the marker that of the upper half.
            size = int(min(max(14.0, self.width / 48), 0.8 * reach_y, 1.6 * reach_x / max(1.0, 0.62 * len(text))))
            if size >= _SMALLEST_TEXT:
                found.append(Number(text, float(self.inner.x[row]), float(self.inner.y[row]) + 0.5 * reach_y, size))
        return tuple(found)

    @property
    def unnumbered(self) -> int:
        """Islands too small for a number at this size."""
        return len(self.rows) - len(self.numbers)

    @cached_property
    def marker_segments(self) -> NDArray[np.float64]:
        """Markers of the islands that have room for one, as lines."""
        columns = self.facts.islands
        assert columns is not None
        pieces = [np.zeros((4, 0))]
        smallest = 4 * self.line
        for row in self.rows:
            reach_x, reach_y = float(self.inner.reach_x[row]), float(self.inner.reach_y[row])
            reach = min(0.42 * reach_y, 0.8 * reach_x, max(14.0, self.width / 40))
            if not reach >= smallest:
                continue
            up, certainty = float(columns.up_degrees[row]), float(columns.up_certainty[row])
            x, y = float(self.inner.x[row]), float(self.inner.y[row]) - 0.45 * reach_y
            pieces.append(marker(x, y, reach, up, certainty, bool(columns.winding[row] < 0)))
        return np.concatenate(pieces, axis=1)

    @cached_property
    def signs(self) -> NDArray[np.uint8]:
        """(height, width) coverage of markers and numbers in 255ths."""
        lines = line_coverage(self.marker_segments, 1.5 * self.line, self.width, self.height)
        image = Image.fromarray(lines)
        draw = ImageDraw.Draw(image)
        for number in self.numbers:
            draw.text((number.x, number.y), number.text, 255, font(number.size), anchor="mm")
        return np.asarray(image)
