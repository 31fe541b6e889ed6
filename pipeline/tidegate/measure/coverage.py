"""How often texels of a picture are covered: overlap by group, exact stacks told apart, share of the picture in use."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from tidegate.geometry.borders import border_sides
from tidegate.geometry.outlines import outlines
from tidegate.geometry.overlap import Overlap, measure_overlap
from tidegate.geometry.stacks import exact_stacks, identical_islands
from tidegate.measure.placed import Placed
from tidegate.model.facts import IslandColumns, Picture

LARGEST = 8192  # texels a side that are counted; a larger map is counted at this size and the count scaled up
STACK_TOLERANCE = 0.05  # texels that outlines of a stack may be apart


@dataclass(frozen=True, slots=True)
class OverlapGroup:
    """Islands that hang together by shared texels. islands: rows. texels: shared by any of their triangles; between: by
    two islands or more. box: (x0, y0, x1, y1) pixels around them. stack: all lie exactly on one another."""

    islands: tuple[int, ...]
    texels: int
    between: int
    box: tuple[int, int, int, int]
    stack: bool


@dataclass(frozen=True, slots=True, eq=False)
class Coverage:
    """Coverage of one picture. share: of its texels that any island covers, stacks counted once. stacks: rows of islands
    that lie exactly on each other, by outline."""

    picture: Picture
    share: float
    overlaps: tuple[OverlapGroup, ...]
    stacks: tuple[tuple[int, ...], ...]


def counted_size(picture: Picture) -> tuple[int, int]:
    """Width and height at which the texels of a picture are counted."""
    return min(picture.width, LARGEST), min(picture.height, LARGEST)


def measure_coverage(columns: IslandColumns, picture: Picture, placed: Placed) -> Coverage:
    """Coverage of a picture whose triangles were placed at `counted_size`."""
    width, height = counted_size(picture)
    count = len(placed.rows)
    twins = identical_islands(placed.uv, placed.local, count)
    overlap = measure_overlap(placed.texels, placed.local, count, width, height, twins)
    stack_of = _stacks(placed, count, columns, width, height)
    scale = (picture.width * picture.height) / (width * height)
    groups = _groups(overlap, placed, stack_of, scale, picture.width / width, picture.height / height)
    return Coverage(
        picture=picture,
        share=float(np.count_nonzero(overlap.covered)) / (width * height),
        overlaps=groups,
        stacks=_members(stack_of, placed.rows),
    )


def _stacks(placed: Placed, count: int, columns: IslandColumns, width: int, height: int) -> NDArray[np.int32]:
    if count < 2:
        return np.arange(count, dtype=np.int32)
    sides = border_sides(placed.mates, placed.local)
    outline = outlines(placed.uv, placed.corners, sides, placed.local, count)
    corner = columns.corner[placed.rows].astype(np.float64)
    boxes = columns.bounds[placed.rows] - np.concatenate([corner, corner], axis=1)
    return exact_stacks(outline, boxes, columns.uv_area[placed.rows], STACK_TOLERANCE / max(width, height))


def _members(stack_of: NDArray[np.int32], rows: NDArray[np.int64]) -> tuple[tuple[int, ...], ...]:
    sizes = np.bincount(stack_of, minlength=len(stack_of))
    order = np.argsort(stack_of, kind="stable")
    found = []
    start = 0
    for first in np.flatnonzero(sizes):
        size = int(sizes[first])
        if size > 1:
            found.append(tuple(int(row) for row in rows[order[start : start + size]]))
        start += size
    return tuple(found)


def _groups(
    overlap: Overlap, placed: Placed, stack_of: NDArray[np.int32], scale: float, across: float, down: float
) -> tuple[OverlapGroup, ...]:
    groups = []
    member_order = np.argsort(overlap.group, kind="stable")
    sorted_groups = overlap.group[member_order]
    for number in range(len(overlap.group_texels)):
        low, high = np.searchsorted(sorted_groups, [number, number + 1])
        members = member_order[low:high]
        stack = len(members) > 1 and len(set(stack_of[members].tolist())) == 1 and not overlap.own[members].any()
        x0, y0, x1, y1 = (int(edge) for edge in overlap.group_box[number])
        groups.append(
            OverlapGroup(
                islands=tuple(sorted(int(row) for row in placed.rows[members])),
                texels=round(float(overlap.group_texels[number]) * scale),
                between=round(float(overlap.group_between[number]) * scale),
                box=(int(x0 * across), int(y0 * down), int(np.ceil(x1 * across)), int(np.ceil(y1 * down))),
                stack=bool(stack),
            )
        )
    groups.sort(key=lambda group: group.islands)
    return tuple(groups)
