"""How the triangles of a prop lie in the tile: stretch, folds, flat and thin ones, density inside islands, borders.

`Facts.unfolding` answers by island row, whatever part or UV layer the island is of. Everything is measured when first
asked for and kept, so a rule set pays for what it looks at.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from functools import cached_property
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from tidegate.geometry.areas import island_boxes, island_sums
from tidegate.geometry.slivers import thinness
from tidegate.geometry.straightness import Runs, border_runs
from tidegate.geometry.texel_density import density_gradient, density_spread, texel_density
from tidegate.geometry.wrapped import wrapped_overlap
from tidegate.measure.coverage import counted_size
from tidegate.measure.islands import LaidOut
from tidegate.measure.rounding import significant
from tidegate.model.facts import IslandColumns, Picture
from tidegate.model.selection import repeating


class Chosen(NamedTuple):
    """Triangles with something in common, by island. triangles: (i,) how many. surface: (i,) square metres of them.
    box: (i, 4) u0 v0 u1 v1 around them, NaN for an island that has none."""

    triangles: NDArray[np.int64]
    surface: NDArray[np.float64]
    box: NDArray[np.float64]


class LayerTriangles:
    """The triangles of one UV layer of one part, in the order of the part. island: (m,) island rows, -1 without UVs."""

    def __init__(self, columns: IslandColumns, laid: LaidOut) -> None:
        self.part, self.uv_layer, self.island = laid.part, laid.layer, laid.island
        self._columns, self._laid = columns, laid

    @property
    def uv(self) -> NDArray[np.float64]:
        """(3, 2, m) corner columns, V up."""
        return self._laid.uv

    @property
    def xyz(self) -> NDArray[np.float64]:
        """(3, 3, m) corner columns in metres."""
        return self._laid.surface.xyz

    @property
    def surface(self) -> NDArray[np.float64]:
        """(m,) square metres."""
        return self._laid.surface.areas

    @property
    def signed(self) -> NDArray[np.float64]:
        """(m,) signed UV areas."""
        return self._laid.signed

    @property
    def flat(self) -> NDArray[np.bool_]:
        """(m,) whether a triangle has no UV area that can be told from rounding."""
        return self._laid.flat

    @cached_property
    def sizes(self) -> NDArray[np.float64]:
        """(2, m) width and height in texels of the map that each triangle is painted on."""
        rows = np.unique(self.island[self.island >= 0])
        by_row = np.ones((2, len(self._columns) + 1))
        if len(rows):
            by_row[:, rows] = np.array(
                [self._laid.driving.size(int(tile)) for tile in self._columns.tile[rows]], dtype=np.float64
            ).T
        return by_row[:, self.island]

    @cached_property
    def texel_area(self) -> NDArray[np.float64]:
        """(m,) unsigned area in texels; 0 for flat triangles."""
        area: NDArray[np.float64] = np.where(self.flat, 0.0, np.abs(self.signed) * self.sizes[0] * self.sizes[1])
        return area

    @cached_property
    def ratio(self) -> NDArray[np.float32]:
        """(m,) longer over shorter side of what a square texel covers; NaN where there is nothing to measure: without
        UVs, without UV area or without surface."""
        defined = (self.island >= 0) & ~self.flat & (self.surface > 0.0)
        ratio: NDArray[np.float32] = np.where(defined, self._laid.ratio, np.float32(np.nan))
        return ratio

    @cached_property
    def density(self) -> NDArray[np.float64]:
        """(m,) texels per metre, NaN where undefined."""
        return texel_density(self.texel_area, self.surface, 1.0, 1.0)

    @cached_property
    def density_reach(self) -> NDArray[np.float64]:
        """(i,) densest over least dense triangle of every island of the prop; 0 where undefined or of another layer."""
        known = np.flatnonzero((self.island >= 0) & np.isfinite(self.density))
        low, high = np.full(len(self._columns), np.inf), np.zeros(len(self._columns))
        rows = self.island[known].astype(np.int64)
        np.minimum.at(low, rows, self.density[known])
        np.maximum.at(high, rows, self.density[known])
        reach: NDArray[np.float64] = high / low
        return reach

    @cached_property
    def thin(self) -> NDArray[np.float64]:
        """(m,) height over longest side in the tile, in texels of the map, so that a map that is not square counts so."""
        return thinness(self.uv * self.sizes[None])

    @property
    def folded(self) -> NDArray[np.bool_]:
        """(m,) triangles that lie the other way round than their island does."""
        winding = np.append(self._columns.winding, np.int8(0))[self.island]
        folded: NDArray[np.bool_] = ~self.flat & (winding != 0) & (np.sign(self.signed) != winding)
        return folded


class Unfolding:
    """All UV layers of all parts. What it answers has one entry an island, in the order of `Facts.islands`."""

    def __init__(self, columns: IslandColumns, layouts: Sequence[LaidOut]) -> None:
        self._columns = columns
        self._layouts = tuple(layouts)
        self.layers = tuple(LayerTriangles(columns, laid) for laid in layouts)

    def ahead(self) -> None:
        """Measures what rules start from, so that it is at hand when they ask."""
        self.flat, self.judged_surface  # noqa: B018 - measured when first asked for, and kept
        for layer in self.layers:
            layer.density_reach  # noqa: B018 - the same

    @cached_property
    def judged_surface(self) -> NDArray[np.float64]:
        """(i,) square metres of triangles whose stretch is defined."""
        return self._sums(lambda layer: np.where(np.isnan(layer.ratio), 0.0, layer.surface))

    def stretched_surface(self, limit: float) -> NDArray[np.float64]:
        """(i,) square metres of triangles whose ratio is above the limit. Ratios are taken to six digits."""
        return self._sums(lambda layer: np.where(layer.ratio > limit * (1.0 + 1e-6), layer.surface, 0.0))

    def folded(self, least_texels: float) -> Chosen:
        """Triangles of that many texels and more that lie the other way round than their island."""
        return self._chosen(lambda layer: layer.folded & (layer.texel_area >= least_texels))

    @cached_property
    def folded_texels(self) -> NDArray[np.float64]:
        """(i,) area of the folded triangles, in texels."""
        return self._sums(lambda layer: np.where(layer.folded, layer.texel_area, 0.0))

    @cached_property
    def flat(self) -> Chosen:
        """Triangles without UV area that have a surface."""
        return self._chosen(lambda layer: layer.flat & (layer.surface > 0.0))

    def slivers(self, below: float) -> Chosen:
        """Triangles whose height in the tile is less than that share of their longest side, flat ones aside."""
        return self._chosen(lambda layer: ~layer.flat & (layer.thin < below))

    def density_range(self, beyond: float) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        """(i,) twice: texels per metre that 5 % and 95 % of the island's surface do not exceed. NaN where undefined, and where
        the densest triangle is no more than `beyond` times as dense as the least dense one, so the two cannot be either."""
        low, high = np.full(len(self._columns), np.nan), np.full(len(self._columns), np.nan)
        for layer in self.layers:
            wide = layer.density_reach > beyond
            here = np.flatnonzero(np.append(wide, False)[layer.island])
            if not len(here):
                continue
            # Rounded first: triangles that are equal but for the last digits are sorted the same on any machine.
            density = significant(layer.density[here], 7)
            spread = density_spread(density, layer.surface[here], layer.island[here], len(wide))
            low[wide], high[wide] = spread.low[wide], spread.high[wide]
        return low, high

    @cached_property
    def density_slope(self) -> NDArray[np.float64]:
        """(i, 2) doublings of density for a tile width to the right and upwards, NaN undefined."""
        slope = np.full((len(self._columns), 2), np.nan)
        for layer in self.layers:
            rows = np.unique(layer.island[layer.island >= 0])
            if len(rows):
                found = density_gradient(layer.density, layer.surface, layer.uv, layer.island, len(self._columns))
                slope[rows] = np.round(found[rows], 6)
        return slope

    def border_runs(self, picture: Picture) -> list[Runs]:
        """Straight or nearly straight stretches of border of a picture's islands, in texels, y up; `Runs.island` are rows."""
        found = []
        wanted = np.zeros(len(self._columns) + 1, np.bool_)  # the last entry stands for no island
        wanted[picture.islands] = True
        scale = np.array([picture.width, picture.height], np.float64)[None, :, None]
        for laid in self._layouts:
            if laid.layer == picture.uv_layer and laid.part in picture.parts:
                sides = laid.borders[wanted[laid.island[laid.borders // 3]]]
                found.append(border_runs(laid.uv * scale, laid.corners, sides, laid.island))
        return found

    def wrapped_overlap(self, picture: Picture) -> tuple[tuple[tuple[tuple[int, ...], int], ...], bool]:
        """Island rows and shared texels of each group of islands that overlap once the picture is repeated as its sampler
        does, and whether that is all: an island may repeat the map so often that not everything was drawn."""
        local = np.full(len(self._columns) + 1, -1, np.int32)
        local[picture.islands] = np.arange(len(picture.islands), dtype=np.int32)
        width, height = counted_size(picture)
        pieces, owners = [], []
        for laid in self._layouts:
            if laid.layer != picture.uv_layer or laid.part not in picture.parts:
                continue
            here = np.flatnonzero(local[laid.island] >= 0)
            uv = laid.uv[:, :, here]
            pieces.append(np.stack([uv[:, 0] * width, (1.0 - uv[:, 1]) * height], axis=1))
            owners.append(local[laid.island[here]])
        texels, owner = np.concatenate(pieces, axis=2), np.concatenate(owners)
        found = wrapped_overlap(texels, owner, len(picture.islands), width, height, repeating(picture))
        scale = (picture.width * picture.height) / (width * height)
        groups = tuple(
            (tuple(picture.islands[found.group == number].tolist()), round(float(found.group_texels[number]) * scale))
            for number in range(len(found.group_texels))
        )
        return groups, found.complete

    def _sums(self, values: Callable[[LayerTriangles], NDArray[np.float64]]) -> NDArray[np.float64]:
        total = np.zeros(len(self._columns))
        for layer in self.layers:
            total += island_sums(values(layer), layer.island, len(total))
        return significant(total)

    def _chosen(self, mask: Callable[[LayerTriangles], NDArray[np.bool_]]) -> Chosen:
        count = len(self._columns)
        triangles, surface = np.zeros(count, np.int64), np.zeros(count)
        box = np.full((count, 4), np.nan)
        for layer in self.layers:
            here = np.flatnonzero(mask(layer) & (layer.island >= 0))
            if not len(here):
                continue
            rows = layer.island[here]
            triangles += np.bincount(rows, minlength=count)
            surface += np.bincount(rows, weights=layer.surface[here], minlength=count)
            boxes = island_boxes(layer.uv[:, :, here], rows, count)
            box[rows] = boxes[rows]
        return Chosen(triangles, significant(surface), significant(box))
