"""How often texels of a picture are covered: overlap by group, exact stacks told apart, share of the picture in use."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from tidegate.geometry.outlines import Outlines, outlines
from tidegate.geometry.overlap import Overlap, measure_overlap
from tidegate.geometry.stacks import exact_stacks, identical_islands
from tidegate.measure.near_stacks import nearness
from tidegate.measure.placed import Placed
from tidegate.model.facts import IslandColumns, Picture

LARGEST = 8192  # texels a side that are counted; a larger map is counted at this size and the count scaled up
STACK_TOLERANCE = 0.05  # texels that outlines of a stack may be apart


@dataclass(frozen=True, slots=True)
class OverlapGroup:
    """Islands that hang together by shared texels. islands: rows. texels: shared by any of their triangles; between: by
    two islands or more. box: (x0, y0, x1, y1) pixels around them. stack: all lie exactly on one another. one_shape: they have
    the same outline but for where it lies, however turned, mirrored or not. apart: texels between the outlines of such
    islands, and of others that are nearly alike, at the farthest; infinite otherwise."""

    islands: tuple[int, ...]
    texels: int
    between: int
    box: tuple[int, int, int, int]
    stack: bool
    one_shape: bool = False
    apart: float = float("inf")


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
    shapes = _Shapes(placed, count, columns)
    tolerance = STACK_TOLERANCE / max(width, height)
    stack_of = _stacks(shapes, count, tolerance)
    scale = (picture.width * picture.height) / (width * height)
    groups = _groups(overlap, placed, stack_of, scale, picture.width / width, picture.height / height)
    groups = _with_nearness(groups, shapes, placed, (picture.width, picture.height), tolerance)
    return Coverage(
        picture=picture,
        share=float(np.count_nonzero(overlap.covered)) / (width * height),
        overlaps=groups,
        stacks=_members(stack_of, placed.rows),
    )


class _Shapes:
    """Borders, outlines, boxes in the tile and areas of the islands of a picture, worked out when first asked for."""

    def __init__(self, placed: Placed, count: int, columns: IslandColumns) -> None:
        self._placed, self._count = placed, count
        corner = columns.corner[placed.rows].astype(np.float64)
        self.boxes = columns.bounds[placed.rows] - np.concatenate([corner, corner], axis=1)
        self.areas = columns.uv_area[placed.rows]

    @cached_property
    def sides(self) -> NDArray[np.int64]:
        return self._placed.borders

    @cached_property
    def outline(self) -> Outlines:
        placed = self._placed
        return outlines(placed.uv, placed.corners, self.sides, placed.local, self._count)


def _stacks(shapes: _Shapes, count: int, tolerance: float) -> NDArray[np.int32]:
    if count < 2:
        return np.arange(count, dtype=np.int32)
    return exact_stacks(shapes.outline, shapes.boxes, shapes.areas, tolerance)


def _with_nearness(
    groups: tuple[OverlapGroup, ...],
    shapes: _Shapes,
    placed: Placed,
    texels: tuple[int, int],
    tolerance: float,
) -> tuple[OverlapGroup, ...]:
    """The groups, those of several islands that are no stack with what tells near stacks from accidents."""
    asked = [number for number, group in enumerate(groups) if len(group.islands) > 1 and not group.stack]
    if not asked:
        return groups
    members = [np.searchsorted(placed.rows, np.array(groups[number].islands)) for number in asked]
    near = nearness(
        members, placed.uv, shapes.sides, placed.local, shapes.outline, shapes.boxes, shapes.areas, texels, tolerance
    )
    told = dict(zip(asked, near, strict=True))
    return tuple(
        replace(group, one_shape=told[number].one_shape, apart=told[number].apart) if number in told else group
        for number, group in enumerate(groups)
    )


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
