"""A picture's layout at the size of one map: which island each texel belongs to, the bands around, and its wire."""

from __future__ import annotations

from collections.abc import Sequence
from functools import cached_property

import numpy as np

from tidegate.geometry.raster import owners
from tidegate.measure.islands import LaidOut
from tidegate.measure.placed import place
from tidegate.model.facts import IslandColumns, Picture
from tidegate.pixels.border_bands import BorderBands, border_bands

LEAST_DEPTH = 8  # texels around the islands that are told apart from the ground, whatever bleed is wanted


class PaintedLayout:
    """labels: (height, width) integers, -1 outside, else index into `rows`; row 0 is the top of the picture.

    whole: every island lies in the tile whole, so the labels show all that is painted from this picture.
    """

    def __init__(
        self, columns: IslandColumns, picture: Picture, layouts: Sequence[LaidOut], size: tuple[int, int], depth: int
    ) -> None:
        self.picture = picture
        self.size = size
        self.depth = max(depth, LEAST_DEPTH)
        self._placed = place(columns, picture, layouts, *size)
        self.rows = self._placed.rows
        few = len(self.rows) < np.iinfo(np.int16).max  # the labels are held as long as the layout is
        self.labels = owners(self._placed.texels, self._placed.local, *size, np.int16 if few else np.int32)
        self.whole = bool(columns.inside[self.rows].all())

    @cached_property
    def bands(self) -> BorderBands:
        """Bands out to the depth asked for."""
        return border_bands(self.labels, len(self.rows), self.depth)
