"""How far every texel outside the islands lies from them, and which island is the nearest: once per layout.

Distance is Euclidean between texel centres, from a texel to the nearest texel of an island, so the four neighbours of an
island stand at 1. Band k holds the distances in (k - 1, k]. A texel belongs to an island only if that island is nearer than
any other; one at equal distance from two islands belongs to none.

The squared distance is separable (Saito and Toriwaki, "New algorithms for Euclidean distance transformation of an
n-dimensional digitized picture with applications", Pattern Recognition 27(11), 1994): the distance along the column first,
then a minimum along the row. Bounding the depth keeps that to a few vector operations a texel, in strips, in small integers.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from .strips import strips

INSIDE, SHARED, FAR = 0, 254, 255
DEEPEST = 250
Labels = NDArray[Any]  # int16 or int32
_SHORT_DEPTH = 31  # deepest for which squared distance and column offset fit 16 bits together


@dataclass(frozen=True, slots=True, eq=False)
class BorderBands:
    """Distances around the islands of one layout, out to `depth` texels.

    band: (H, W) uint8: INSIDE an island, 1 .. depth, SHARED within depth of two islands at equal distance, FAR beyond depth.
    run_start, run_length, run_owner: texels of bands 1 .. depth in flat raster order as runs of one nearest island; no run
    crosses a strip border. totals: (islands, depth + 1) int64 texels per band, column 0 those inside the island.
    edge, edge_owner: flat indices, rising, of the island texels that touch another label by a side.
    """

    depth: int
    islands: int
    band: NDArray[np.uint8]
    run_start: NDArray[np.int64]
    run_length: NDArray[np.int64]
    run_owner: NDArray[np.int32]
    totals: NDArray[np.int64]
    edge: NDArray[np.int64]
    edge_owner: NDArray[np.int32]

    @property
    def far_texels(self) -> int:
        """Texels further than `depth` from every island."""
        return int(np.count_nonzero(self.band == FAR))


def border_bands(labels: Labels, islands: int, depth: int) -> BorderBands:
    """Bands 1 .. depth around every island of a label raster.

    labels: (H, W) integers, -1 outside, else the island number below `islands`; row 0 is the top of the image.
    depth: texels, 1 .. 250. ValueError for anything else.
    """
    if labels.ndim != 2:
        raise ValueError(f"labels must be (H, W), came {labels.shape}")
    if not 1 <= depth <= DEEPEST:
        raise ValueError(f"depth must be 1 .. {DEEPEST}, came {depth}")
    height, width = labels.shape
    labels = np.ascontiguousarray(labels)
    flat_labels = labels.reshape(-1)
    band = _distance_below(labels, depth)  # turned into bands in place, strip by strip
    search = _RowSearch(width, depth)
    circles = _Circles(depth)
    totals = np.zeros(islands * (depth + 1), np.int64)
    starts: list[NDArray[np.int64]] = []
    lengths: list[NDArray[np.int64]] = []
    owners: list[NDArray[np.int64]] = []
    edges: list[NDArray[np.int64]] = []
    up_row = np.full(width, depth + 1, np.uint8)
    owner_above = np.full(width, -1, labels.dtype)
    label_above = labels[0] if height else owner_above

    for top, bottom in strips(height, width):
        below = min(bottom + 1, height)  # one row more, to see who owns the texels under the strip
        up = _distance_above(labels[top:below], up_row, depth)
        up_row = up[bottom - top - 1].copy()
        down = band[top:below]
        place, squared, column = search.nearest(np.minimum(up, down))
        shape = (below - top, width)

        by_column = place + column
        above = up.reshape(-1)[by_column].astype(np.int64)
        under = down.reshape(-1)[by_column].astype(np.int64)
        source = by_column + np.where(above <= under, -above, under) * width
        source += top * width
        owner = labels[top:below].copy()
        flat_owner = owner.reshape(-1)
        own = flat_labels[source]
        flat_owner[place] = own

        count = int(np.searchsorted(place, (bottom - top) * width))
        place, squared, own = place[:count], squared[:count], own[:count]
        keep = np.ones(count, bool)
        suspects = _meeting(owner, owner_above, bottom - top).reshape(-1)[place]
        pick = np.flatnonzero(suspects)
        shared = pick[circles.another_as_near(labels, place[pick] + top * width, squared[pick], own[pick])]
        keep[shared] = False

        strip = np.full(shape[0] * width, FAR, np.uint8)[: (bottom - top) * width]
        strip[labels[top:bottom].reshape(-1) >= 0] = INSIDE
        bands = search.band_of[squared]
        strip[place] = bands
        strip[place[shared]] = SHARED
        owner_above = owner[bottom - top - 1]
        band[top:bottom] = strip.reshape(bottom - top, width)

        place, own, bands = place[keep], own[keep], bands[keep]
        totals += np.bincount(own.astype(np.int64) * (depth + 1) + bands, minlength=len(totals))
        begin = np.flatnonzero(
            np.concatenate([np.ones(min(1, len(place)), bool), (np.diff(place) != 1) | (own[1:] != own[:-1])])
        )
        starts.append(place[begin] + top * width)
        lengths.append(np.diff(np.append(begin, len(place))))
        owners.append(own[begin].astype(np.int64))
        edges.append(_edge_texels(labels, label_above, top, bottom))
        label_above = labels[bottom - 1]

    edge = _joined(edges)
    inside = np.zeros(islands, np.int64)
    for top, bottom in strips(height, width):
        part = flat_labels[top * width : bottom * width]
        inside += np.bincount(part[part >= 0], minlength=islands)
    table = totals.reshape(islands, depth + 1)
    table[:, 0] = inside
    return BorderBands(
        depth,
        islands,
        band,
        _joined(starts),
        _joined(lengths),
        _joined(owners).astype(np.int32),
        table,
        edge,
        flat_labels[edge].astype(np.int32),
    )


def owned_texels(bands: BorderBands) -> Iterator[tuple[NDArray[np.int64], NDArray[np.int32], NDArray[np.uint8]]]:
    """Flat indices, nearest island and band of the texels in bands 1 .. depth, strip by strip, in raster order."""
    height, width = bands.band.shape
    flat = bands.band.reshape(-1)
    for top, bottom in strips(height, width):
        first, last = np.searchsorted(bands.run_start, (top * width, bottom * width))
        if first == last:
            continue
        part = flat[top * width : bottom * width]
        place = np.flatnonzero((part - np.uint8(1)) < np.uint8(bands.depth))
        owner = np.repeat(bands.run_owner[first:last], bands.run_length[first:last])
        yield place + top * width, owner, part[place]


class _RowSearch:
    """The second half of the transform: for each texel the column offset whose island texel is nearest.

    Squared distance and offset travel in one integer, `squared << shift | abs(offset)`, so one minimum keeps both.
    """

    def __init__(self, width: int, depth: int) -> None:
        self.width, self.depth = width, depth
        self.shift = 5 if depth <= _SHORT_DEPTH else 8
        self.kind = np.uint16 if depth <= _SHORT_DEPTH else np.uint32
        column = np.arange(depth + 2)
        self.none = self.kind(int(column[-1]) ** 2 << self.shift)
        self.band_of = np.ceil(np.sqrt(np.arange(depth * depth + 1))).astype(np.uint8)

    def nearest(
        self, along_column: NDArray[np.uint8]
    ) -> tuple[NDArray[np.int64], NDArray[np.int64], NDArray[np.int64]]:
        """Flat places within depth of an island and outside it, their squared distance, and the signed column offset."""
        rows, width, depth = len(along_column), self.width, self.depth
        reach = np.full((rows, width + 2 * depth), self.none, self.kind)
        middle = reach[:, depth : depth + width]
        middle[:] = along_column
        middle *= middle
        middle <<= self.kind(self.shift)
        best = reach[:, depth : depth + width].copy()
        left = best.copy()
        for offset in range(1, depth + 1):
            reach += self.kind((2 * offset - 1 << self.shift) + 1)
            np.minimum(best, reach[:, depth + offset : depth + offset + width], out=best)
            np.minimum(left, reach[:, depth - offset : depth - offset + width], out=left)
        np.minimum(best, left, out=best)
        limit = self.kind((depth * depth << self.shift) + (1 << self.shift) - 1)
        place = np.flatnonzero((best.reshape(-1) - self.kind(1)) < limit)
        key = best.reshape(-1)[place].astype(np.int64)
        offset_of = key & ((1 << self.shift) - 1)
        column = np.where(left.reshape(-1)[place] == key, -offset_of, offset_of)
        return place, key >> self.shift, column


def _distance_below(labels: Labels, depth: int) -> NDArray[np.uint8]:
    """(H, W) uint8 rows down to the nearest island texel of the same column, depth + 1 when further."""
    out = np.empty(labels.shape, np.uint8)
    row = np.full(labels.shape[1], depth + 1, np.uint8)
    for top, bottom in reversed(list(strips(*labels.shape))):
        out[top:bottom] = _distance_above(labels[top:bottom][::-1], row, depth)[::-1]
        row = out[top]
    return out


def _distance_above(labels: Labels, row: NDArray[np.uint8], depth: int) -> NDArray[np.uint8]:
    """The same upwards for a strip, going on from the distances of the row above it."""
    out = np.empty(labels.shape, np.uint8)
    outside = (labels < 0).view(np.uint8)
    furthest = np.uint8(depth + 1)
    for here, counts in zip(out, outside, strict=True):
        np.add(row, np.uint8(1), out=here)
        np.minimum(here, furthest, out=here)
        here *= counts
        row = here
    return out


def _meeting(owner: Labels, above: Labels, rows: int) -> NDArray[np.bool_]:
    """Texels of the first `rows` rows with a side neighbour that another island owns. Only there can two be as near."""
    marked = np.zeros(owner.shape, bool)
    width = owner.shape[1]
    flat, mark = owner.reshape(-1), marked.reshape(-1)
    for step in (1, width):
        one = np.flatnonzero(flat[step:] != flat[:-step])
        one = one[(flat[one] >= 0) & (flat[one + step] >= 0)]
        mark[one] = True
        mark[one + step] = True
    marked[0] |= (owner[0] != above) & (above >= 0)
    return marked[:rows]


class _Circles:
    """Lattice points of every circle about a texel whose squared radius is at most depth squared."""

    def __init__(self, depth: int) -> None:
        side = np.arange(-depth, depth + 1)
        dx, dy = (a.reshape(-1) for a in np.meshgrid(side, side))
        squared = dx * dx + dy * dy
        order = np.argsort(squared, kind="stable")
        order = order[: np.searchsorted(squared[order], depth * depth, "right")]
        self.dx, self.dy = dx[order], dy[order]
        self.first = np.searchsorted(squared[order], np.arange(depth * depth + 2))

    def another_as_near(
        self, labels: Labels, place: NDArray[np.int64], squared: NDArray[np.int64], own: NDArray[np.int32]
    ) -> NDArray[np.bool_]:
        """Whether a texel of another island lies exactly as far from `place` as the nearest one of its own island."""
        height, width = labels.shape
        flat = labels.reshape(-1)
        found = np.zeros(len(place), bool)
        y, x = np.divmod(place, width)
        point, last = self.first[squared], self.first[squared + 1]
        open_ = np.arange(len(place))
        while len(open_):
            gx, gy = x[open_] + self.dx[point[open_]], y[open_] + self.dy[point[open_]]
            within = (gx >= 0) & (gx < width) & (gy >= 0) & (gy < height)
            label = flat[np.where(within, gy * width + gx, 0)]
            found[open_] = within & (label >= 0) & (label != own[open_])
            point[open_] += 1
            open_ = open_[~found[open_] & (point[open_] < last[open_])]
        return found


def _edge_texels(labels: Labels, above: Labels, top: int, bottom: int) -> NDArray[np.int64]:
    """Flat indices of island texels in rows top .. bottom that have a side neighbour with another label."""
    part = labels[top:bottom]
    mark = np.zeros(part.shape, bool)
    step = part[:, 1:] != part[:, :-1]
    mark[:, 1:] |= step
    mark[:, :-1] |= step
    step = part[1:] != part[:-1]
    mark[1:] |= step
    mark[:-1] |= step
    mark[0] |= part[0] != above
    if bottom < len(labels):
        mark[-1] |= part[-1] != labels[bottom]
    mark &= part >= 0
    return np.asarray(np.flatnonzero(mark) + top * labels.shape[1])


def _joined(parts: list[NDArray[np.int64]]) -> NDArray[np.int64]:
    return np.concatenate([np.zeros(0, np.int64), *parts])
