"""Whether the paint goes on across a seam: both sides of every seam edge, read just inside.

One edge of the surface lies in the tile twice. Points along it are read on both sides, a little way inside each island, so
that no texel of the ground takes part. What the paint itself changes over the same distance is read too and taken off.

Normals are compared in a frame that both sides share: along the edge, and across it into the island. On a smooth surface a
vector that points into one island points out of the other, so that part changes sign; turned and mirrored islands need no
further care, since edge and inside turn with them.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from .resample import at_points
from .samples import Image, as_channels
from .seam_lines import LineSteps, lifted, line_steps
from .seam_points import SeamEdges, SeamPoints, texels

REACH = 1.0  # texels inside the edge: a bilinear read there touches no texel whose centre is outside
VISIBLE = 0.02  # difference that an eye may notice along an edge, 5 codes of 8 bits; common practice, no source
DELIBERATE_STEP = (
    0.15  # an even step at least this large looks like two materials that meet; common practice, no source
)
EVEN = 0.35  # share of the step by which it may scatter and still be even
SAME_PAINT = (
    0.8  # correlation along the seam from which two materials show one paint that goes on; common practice, no source
)
GOES_ON = 0.5  # the same from which a step on the whole counts as one paint's; common practice, no source
SAME_CONTRAST = (
    0.75  # of the smaller to the larger deviation along the seam, from which noise is one paint's; common practice
)
PLAIN = 0.01  # standard deviation along the seam below which a side is too plain to be recognised


@dataclass(frozen=True, slots=True, eq=False)
class SeamDifferences:
    """One row an edge: points read (0: nothing could be read, the other columns are then 0).

    difference: mean over its points of the largest channel difference, 0 .. 1. own: the same between two points of one
    side, the busier, as far apart as the two sides were read: what the paint changes anyway. excess: difference less own,
    never below 0. share: of the points whose difference passes what the paint changes there by VISIBLE: small where a painted
    line merely crosses the seam. middle: (n, C) mean difference, A less B; scatter: mean distance of single differences from it.
    moments: (n, 5) means over the points of A, B, A A, B B and A B, of the mean over the channels. lines: None for normals.
    """

    points: NDArray[np.int64]
    difference: NDArray[np.float64]
    own: NDArray[np.float64]
    excess: NDArray[np.float64]
    share: NDArray[np.float64]
    middle: NDArray[np.float64]
    scatter: NDArray[np.float64]
    moments: NDArray[np.float64]
    lines: LineSteps | None = None


@dataclass(frozen=True, slots=True)
class Seam:
    """All edges that two islands share. islands: (smaller, larger) number, equal for an island that meets itself.

    points: read along it. excess, share: means over its points. step: the mean difference, its largest channel; scatter: how
    far single differences lie from that, at most. materials: the sides wear different ones. deliberate: a large even step
    between two islands, as where two materials meet, never where an island meets itself; and between two materials everything
    but one paint that goes on and is lighter on one side.
    alike: correlation of the two sides along the seam, 0 where one is too plain. lifted: how much lighter one is on the whole
    than the paint beside the seam explains (`seam_lines.py`), 0 where they do not look like one paint: they neither go on nor
    are, but for a small step, as lively as each other.
    box_a, box_b: pixel boxes of its edges with excess over the limit, on the side of the first island and of the other.
    """

    islands: tuple[int, int]
    points: int
    excess: float
    share: float
    step: float
    scatter: float
    materials: bool
    deliberate: bool
    alike: float
    lifted: float
    box_a: tuple[int, int, int, int]
    box_b: tuple[int, int, int, int]


def seam_differences(
    image: Image,
    edges: SeamEdges,
    labels: NDArray[np.int32] | None = None,
    normals: bool = False,
    green_up: bool = True,
) -> SeamDifferences:
    """Differences across every edge.

    labels: label raster of the image's size; points that would be read outside their own island are then left out.
    normals: the first two channels are the x and y of a normal map; green_up: its green points to V up, as in glTF 2.0 3.9.3.
    """
    image = as_channels(image)
    height, width, channels = image.shape
    points = SeamPoints(edges, np.array([width, height]))
    # The two sides are read 2 x REACH apart on the surface; so are the two points of one side.
    sides, reaches = (0, 1, 0, 1), (REACH, REACH, 3 * REACH, 3 * REACH)
    places = [points.at(side, reach) for side, reach in zip(sides, reaches, strict=True)]
    on = [points.on_island(labels, side, place) for side, place in zip(sides, places, strict=True)]
    good = on[0] & on[1]
    edge, places, deep_a, deep_b = points.edge[good], [place[good] for place in places], on[2][good], on[3][good]
    colors = min(channels, 3)
    read = [at_points(image, place[:, 0], place[:, 1])[:, :colors] for place in places]
    if normals:
        read = [
            _in_edge_frame(values, points.along[side][edge], points.into[side][edge], (1, -1)[side], green_up)
            for values, side in zip(read, sides, strict=True)
        ]
    across = read[0] - read[1]
    own_a, own_b = np.abs(read[0] - read[2]).max(axis=1), np.abs(read[1] - read[3]).max(axis=1)
    own_a, own_b = np.where(deep_a, own_a, np.nan), np.where(deep_b, own_b, np.nan)
    own = np.fmax(own_a, own_b)
    sides_read = (read[0].mean(axis=1), read[1].mean(axis=1))
    lines = None if normals else line_steps(image, points, labels)
    return _summed(edge, across, np.nan_to_num(own), sides_read, len(edges.a), lines)


def normal_differences(image: Image, edges: SeamEdges, labels: NDArray[np.int32] | None = None) -> SeamDifferences:
    """Differences of a normal map across edges that `SeamEdges.of_normals` gave, read with green to V up or down, whichever
    lets it go on better: which of the two a map means is another question.
    """
    up, down = (seam_differences(image, edges, labels, normals=True, green_up=way) for way in (True, False))
    return up if round(float(up.excess.sum()), 6) <= round(float(down.excess.sum()), 6) else down


def seams(edges: SeamEdges, found: SeamDifferences, size: tuple[int, int], limit: float) -> list[Seam]:
    """Edges gathered by the pair of islands that share them, the worst (by mean excess times points) first.

    size: width, height of the map. limit: excess above which an edge counts into the boxes.
    """
    first = np.minimum(edges.island_a, edges.island_b).astype(np.int64)
    second = np.maximum(edges.island_a, edges.island_b).astype(np.int64)
    pairs, number = np.unique(np.stack([first, second], axis=1), axis=0, return_inverse=True)
    number = number.reshape(-1)
    weight = found.points.astype(np.float64)
    points = np.bincount(number, weights=weight, minlength=len(pairs))
    per = np.maximum(points, 1)
    excess = np.bincount(number, weights=weight * found.excess, minlength=len(pairs)) / per
    share = np.bincount(number, weights=weight * found.share, minlength=len(pairs)) / per
    # A less B turns its sign where the pair stands the other way round.
    turned = np.where(edges.island_a == first, 1.0, -1.0)[:, None]
    middle = np.stack(
        [np.bincount(number, weights=weight * c, minlength=len(pairs)) / per for c in (found.middle * turned).T], 1
    )
    off = np.abs(found.middle * turned - middle[number]).max(axis=1) + found.scatter
    scatter_of = np.bincount(number, weights=weight * off, minlength=len(pairs)) / per
    moments = np.stack(
        [np.bincount(number, weights=weight * m, minlength=len(pairs)) / per for m in found.moments.T], 1
    )
    alike, lively = _correlation(moments), _contrast(moments)
    between = np.zeros(len(pairs), bool)
    if edges.materials is not None:
        between[number[edges.materials]] = True
    by_pair = np.argsort(number, kind="stable")
    begin = np.searchsorted(number[by_pair], np.arange(len(pairs) + 1))
    out = []
    for at in np.lexsort((np.arange(len(pairs)), -np.round(excess * points, 9))).tolist():
        if not points[at]:
            continue
        members = by_pair[begin[at] : begin[at + 1]]
        shown = members[found.excess[members] > limit]
        shown = shown if len(shown) else members
        swapped = edges.island_a[shown] != pairs[at, 0]
        side_a = np.where(swapped[:, None, None], edges.b[shown], edges.a[shown])
        side_b = np.where(swapped[:, None, None], edges.a[shown], edges.b[shown])
        step, scatter = float(np.abs(middle[at]).max()), float(scatter_of[at])
        # What lies on both sides of an island's cut is one piece: a step along it is where the picture ends.
        deliberate = bool(step >= DELIBERATE_STEP and scatter <= EVEN * step and pairs[at, 0] != pairs[at, 1])
        deliberate |= bool(between[at]) and float(alike[at]) < SAME_PAINT
        even_choice = step >= DELIBERATE_STEP and pairs[at, 0] != pairs[at, 1]
        one_paint = float(alike[at]) >= GOES_ON or (float(lively[at]) >= SAME_CONTRAST and not even_choice)
        lift = 0.0 if found.lines is None or not one_paint else lifted(found.lines, members, turned[members, 0] < 0)
        out.append(
            Seam(
                (int(pairs[at, 0]), int(pairs[at, 1])),
                int(points[at]),
                float(excess[at]),
                float(share[at]),
                step,
                scatter,
                bool(between[at]),
                deliberate,
                round(float(alike[at]), 6),
                lift,
                _box(side_a, size),
                _box(side_b, size),
            )
        )
    return out


def _contrast(moments: NDArray[np.float64]) -> NDArray[np.float64]:
    """Deviation along the seam of the calmer side over that of the other; 1 where both are plain."""
    a, b, aa, bb, _ = moments.T
    spread = np.sqrt(np.maximum(np.stack([aa - a * a, bb - b * b]), 0))
    return np.asarray((spread.min(axis=0) + PLAIN) / (spread.max(axis=0) + PLAIN))


def _correlation(moments: NDArray[np.float64]) -> NDArray[np.float64]:
    """Of A and B over the points, one a row of `SeamDifferences.moments`; 0 where a side is too plain to be recognised."""
    a, b, aa, bb, ab = moments.T
    spread_a, spread_b = (np.sqrt(np.maximum(square - mean * mean, 0)) for mean, square in ((a, aa), (b, bb)))
    told = np.minimum(spread_a, spread_b) >= PLAIN
    return np.asarray(np.divide(ab - a * b, spread_a * spread_b, out=np.zeros_like(a), where=told))


def _in_edge_frame(
    values: NDArray[np.float64], along: NDArray[np.float64], into: NDArray[np.float64], side: int, green_up: bool
) -> NDArray[np.float64]:
    """Normal map values 0 .. 1 as (along, across from A to B, out of the surface), on the same scale of 0 .. 1."""
    vector = values * 2 - 1
    down = -vector[:, 1] if green_up else vector[:, 1]  # directions here are in texels, y down
    across = (vector[:, 0] * into[:, 0] + down * into[:, 1]) * -side
    parts = [vector[:, 0] * along[:, 0] + down * along[:, 1], across, *vector[:, 2:].T]
    return np.asarray(np.stack(parts, axis=1) / 2)


def _summed(
    edge: NDArray[np.int64],
    across: NDArray[np.float64],
    own: NDArray[np.float64],
    sides: tuple[NDArray[np.float64], NDArray[np.float64]],
    edges: int,
    lines: LineSteps | None,
) -> SeamDifferences:
    points = np.bincount(edge, minlength=edges)
    per = np.maximum(points, 1)

    def mean(values: NDArray[Any]) -> NDArray[np.float64]:
        return np.asarray(np.bincount(edge, weights=values, minlength=edges) / per)

    middle = np.stack([mean(channel) for channel in across.T], axis=1)
    difference, usual = mean(np.abs(across).max(axis=1)), mean(own)
    one, other = sides
    return SeamDifferences(
        points,
        difference,
        usual,
        np.maximum(difference - usual, 0),
        mean(np.abs(across).max(axis=1) > own + VISIBLE),
        middle,
        mean(np.abs(across - middle[edge]).max(axis=1)),
        np.stack([mean(values) for values in (one, other, one * one, other * other, one * other)], axis=1),
        lines,
    )


def _box(uv: NDArray[np.float64], size: tuple[int, int]) -> tuple[int, int, int, int]:
    """Pixel box around edges, inside the map and at least one texel wide."""
    place = texels(uv.reshape(-1, 2), np.array(size))
    place = place[np.isfinite(place).all(axis=1)]
    low = np.clip(np.floor(place.min(axis=0)), 0, np.array(size) - 1).astype(int)
    high = np.clip(np.ceil(place.max(axis=0)), low + 1, size).astype(int)
    return int(low[0]), int(low[1]), int(high[0]), int(high[1])
