"""Islands that overlap without being an exact stack: whether they have one shape, and how far apart their outlines lie."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from tidegate.geometry.borders import side_points
from tidegate.geometry.outline_distance import outline_distance
from tidegate.geometry.outlines import Outlines
from tidegate.geometry.stacks import same_shape

ALIKE = 0.9  # smaller over larger area of islands whose outlines are compared though their shapes differ
FAR = 64.0  # texels by which boxes may differ then
_MOST = 256  # islands of one group that are compared with its first, evenly chosen


class Nearness(NamedTuple):
    """one_shape: all islands have the same outline but for where it lies, however turned, mirrored or not. apart: texels
    from the first island's outline to the farthest of the others, infinite where they were not compared."""

    one_shape: bool
    apart: float


def nearness(
    groups: Sequence[NDArray[np.int64]],
    uv: NDArray[np.float64],
    sides: NDArray[np.int64],
    local: NDArray[np.int32],
    outline: Outlines,
    boxes: NDArray[np.float64],
    areas: NDArray[np.float64],
    texels: tuple[float, float],
    tolerance: float,
) -> list[Nearness]:
    """One for each group of islands, which are named by their index on the picture.

    uv: (3, 2, m) corner columns; sides: `borders.border_sides`; local: (m,) islands. boxes (i, 4), areas (i,) in UV.
    texels: width and height of the picture. tolerance: UV units that corners of one shape may be apart.
    """
    if not groups:
        return []
    of_shape = _shapes(np.unique(np.concatenate(groups)), outline, boxes, areas, tolerance)
    size = np.array(texels)[:, None]
    island = local[sides // 3]
    order = np.argsort(island, kind="stable")
    opens = np.searchsorted(island[order], np.arange(len(boxes) + 1))
    corner_opens = np.concatenate([[0], np.cumsum(outline.size)])

    def corners_of(one: int) -> NDArray[np.float64]:
        corners: NDArray[np.float64] = outline.point[:, corner_opens[one] : corner_opens[one + 1]] * size
        return corners

    def sides_of(one: int) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        start, end = side_points(uv, sides[order[opens[one] : opens[one + 1]]])
        return start * size, end * size

    found = []
    for members in groups:
        one_shape = bool((of_shape[members] == of_shape[members[0]]).all())
        spread = (boxes[members].max(axis=0) - boxes[members].min(axis=0)) * np.tile(size[:, 0], 2)
        alike = areas[members].min() >= ALIKE * areas[members].max() and spread.max() <= FAR
        apart = float("inf")
        if one_shape or alike:
            first, others = int(members[0]), members[1:]
            others = others[:: -(-len(others) // _MOST)]
            mine, border = corners_of(first), sides_of(first)
            apart = max(outline_distance(mine, corners_of(k), border, sides_of(k)) for k in others.tolist())
        found.append(Nearness(one_shape, round(apart, 4)))
    return found


def _shapes(
    islands: NDArray[np.int64],
    outline: Outlines,
    boxes: NDArray[np.float64],
    areas: NDArray[np.float64],
    tolerance: float,
) -> NDArray[np.int64]:
    """(i,) a number for the shape of each of these islands, itself for all others."""
    chosen = np.isin(outline.island, islands)
    number_of = np.zeros(len(boxes), np.int32)
    number_of[islands] = np.arange(len(islands), dtype=np.int32)
    some = Outlines(outline.point[:, chosen], number_of[outline.island[chosen]], outline.size[islands])
    shape = np.arange(len(boxes), dtype=np.int64)
    shape[islands] = islands[same_shape(some, boxes[islands], areas[islands], tolerance)]
    return shape
