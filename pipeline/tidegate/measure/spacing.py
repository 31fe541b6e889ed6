"""Room between islands of a picture and to its border, in texels, and the mip level that room keeps clean."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from tidegate.geometry.borders import side_points
from tidegate.geometry.components import components
from tidegate.geometry.islands import shared_surface
from tidegate.geometry.mip import clean_level
from tidegate.geometry.spacing import island_gaps
from tidegate.geometry.weld import corner_ids
from tidegate.geometry.wrapped import wrapped_overlap
from tidegate.measure.coverage import Coverage, counted_size
from tidegate.measure.islands import LaidOut
from tidegate.measure.placed import Placed
from tidegate.model.facts import IslandColumns, Picture
from tidegate.model.mesh import MeshPart
from tidegate.model.selection import made_to_repeat, paintable, repeating

REACH = 128.0  # texels; wider gaps are no one's concern


@dataclass(frozen=True, slots=True)
class Gap:
    """first, second: rows of two islands, first < second. texels: room between them. pixel: (x, y) middle of the gap.
    clean_mip: the last smaller version of the map in which the two do not mix, -1 for none. over_border: the gap lies
    across a border at which the map is repeated, so the islands are at opposite ends of it."""

    first: int
    second: int
    texels: float
    pixel: tuple[float, float]
    clean_mip: int
    over_border: bool = False


@dataclass(frozen=True, slots=True, eq=False)
class Spacing:
    """Spacing of one picture. pairs: every island with its nearest neighbour within REACH, each pair once, sorted by rows.
    border: (i,) texels from each island of the prop to the border of its tile, NaN for islands of other pictures. ends: the
    same to borders at which the map ends, infinite where it is repeated across and up: there the room is that to what
    lies around the border, among the pairs. Islands without room for paint (`selection.paintable`) need none around them
    and are left out of all."""

    picture: Picture
    pairs: tuple[Gap, ...]
    border: NDArray[np.float64]
    ends: NDArray[np.float64]


def measure_spacing(
    columns: IslandColumns,
    picture: Picture,
    placed: Placed,
    cover: Coverage,
    layouts: Sequence[LaidOut],
    parts: Sequence[MeshPart],
) -> Spacing:
    """Spacing of a picture whose triangles were placed at its full size.

    cover: of the same picture: islands that overlap or are stacked have no gap to judge. parts: the mesh parts in the
    order of `LaidOut.part`.
    """
    count = len(placed.rows)
    sides = placed.borders
    room = paintable(columns, picture, placed.rows)
    if not room.all():
        sides = sides[room[placed.local[sides // 3]]]
    islands = placed.local[sides // 3]
    axes = repeating(picture) if not made_to_repeat(columns, picture) else (False, False)
    crossing = bool(any(axes) and not columns.inside[placed.rows].all())
    group = _one_surface(placed, picture, layouts, parts, cover, axes if crossing else (False, False))
    around = _around(*side_points(placed.texels, sides), islands, picture, axes)
    gaps = island_gaps(
        around.start,
        around.end,
        around.island + (count * around.copy).astype(np.int32),
        count * COPIES,
        REACH,
        np.tile(group, COPIES),
    )
    nearest = np.argmin(gaps.gap.reshape(COPIES, count), axis=0)  # of equal gaps, that of the island itself
    found: dict[tuple[int, int], Gap] = {}
    for local, copy in enumerate(nearest.tolist()):
        if gaps.neighbour[(at := copy * count + local)] < 0:
            continue
        other_copy, other = divmod(int(gaps.neighbour[at]), count)
        first, second = sorted((int(placed.rows[local]), int(placed.rows[other])))
        texels = round(float(gaps.gap[at]), 6)
        x, y = (round(float(gaps.point[at, axis]), 3) for axis in range(2))
        if copy or other_copy:
            x, y = (value % side for value, side in ((x, picture.width), (y, picture.height)))
        found.setdefault((first, second), Gap(first, second, texels, (x, y), clean_level(texels), copy != other_copy))
    rows = placed.rows[room]
    corner, box = columns.corner[rows], columns.bounds[rows]
    edges = [
        np.minimum(box[:, axis] - corner[:, axis], corner[:, axis] + 1 - box[:, 2 + axis]) * side
        for axis, side in enumerate((picture.width, picture.height))
    ]
    # An island that counts as lying in its tile whole reaches its border at most.
    edges = [np.where(columns.inside[rows], np.maximum(edge, 0.0), edge) for edge in edges]
    border, ends = np.full(len(columns), np.nan), np.full(len(columns), np.nan)
    border[rows] = np.round(np.minimum(*edges), 4)
    across, up = repeating(picture)
    ends[rows] = np.round(np.minimum(np.inf if across else edges[0], np.inf if up else edges[1]), 4)
    return Spacing(picture, tuple(found[key] for key in sorted(found)), border, ends)


class _Around(NamedTuple):
    """Ends (2, b) of border sides, the island and the copy of each: 0 the sides themselves, others moved by whole maps."""

    start: NDArray[np.float64]
    end: NDArray[np.float64]
    island: NDArray[np.int32]
    copy: NDArray[np.int64]


_MOVES = ((0, 0), (1, 0), (0, 1), (1, 1), (1, -1))
"""Maps by which copies of what lies near a border are moved: with the other half of the ways around, every two places
that meet would be met twice."""
COPIES = len(_MOVES)


def _around(
    start: NDArray[np.float64],
    end: NDArray[np.float64],
    island: NDArray[np.int32],
    picture: Picture,
    axes: tuple[bool, bool],
) -> _Around:
    """The sides, and copies of those that have something within REACH of them around a border at which the map repeats."""
    size = np.array([picture.width, picture.height], np.float64)[:, None]
    low, high = np.minimum(start, end), np.maximum(start, end)
    starts, ends, islands, copies = [start], [end], [island], [np.zeros(len(island), np.int64)]
    for copy, move in enumerate(_MOVES):
        if copy == 0 or not island.size or any(step and not axis for step, axis in zip(move, axes, strict=True)):
            continue
        by = np.array(move)[:, None] * size
        near = np.ones(len(island), np.bool_)
        for axis, step in enumerate(move):
            if step > 0:
                near &= low[axis] + by[axis] <= high[axis].max() + REACH
            elif step < 0:
                near &= high[axis] + by[axis] >= low[axis].min() - REACH
        chosen = np.flatnonzero(near)
        starts.append(start[:, chosen] + by)
        ends.append(end[:, chosen] + by)
        islands.append(island[chosen])
        copies.append(np.full(len(chosen), copy))
    return _Around(
        np.concatenate(starts, axis=1), np.concatenate(ends, axis=1), np.concatenate(islands), np.concatenate(copies)
    )


def _one_surface(
    placed: Placed,
    picture: Picture,
    layouts: Sequence[LaidOut],
    parts: Sequence[MeshPart],
    cover: Coverage,
    axes: tuple[bool, bool],
) -> NDArray[np.int32]:
    """Groups of islands between which no gap is wanted: cut only by a change of material, overlapping, also where the map
    is repeated, or stacked."""
    count = len(placed.rows)
    first: list[int] = []
    second: list[int] = []
    where = {int(row): number for number, row in enumerate(placed.rows)}
    together = [group.islands for group in cover.overlaps] + list(cover.stacks)
    together += [tuple(placed.rows[group].tolist()) for group in _over_borders(placed, picture, axes)]
    for islands in together:
        first.extend(where[islands[0]] for _ in islands[1:])
        second.extend(where[row] for row in islands[1:])
    if len(picture.parts) > 1:
        corners = _welded_over_parts(placed, picture, layouts, parts)
        surface, _ = shared_surface(corners, placed.local, count)
        head = np.full(count, -1, dtype=np.int64)
        for number, one in enumerate(surface):
            if head[one] < 0:
                head[one] = number
            else:
                first.append(int(head[one]))
                second.append(number)
    return components(np.array(first, np.int64), np.array(second, np.int64), count)[0]


def _over_borders(placed: Placed, picture: Picture, axes: tuple[bool, bool]) -> list[NDArray[np.int64]]:
    """Islands, by their index on the picture, that share texels once what lies beyond a border comes in on the other side."""
    if not any(axes):
        return []
    width, height = counted_size(picture)
    texels = placed.texels * np.array([width / picture.width, height / picture.height])[None, :, None]
    found = wrapped_overlap(texels, placed.local, len(placed.rows), width, height, axes)
    groups = [np.flatnonzero(found.group == number) for number in range(len(found.group_texels))]
    return [group for group in groups if len(group) > 1]


def _welded_over_parts(
    placed: Placed, picture: Picture, layouts: Sequence[LaidOut], parts: Sequence[MeshPart]
) -> NDArray[np.int32]:
    """(m, 3) corner ids of the picture's triangles, equal wherever position and UV agree, also between parts."""
    points, triangles = [], []
    offset = 0
    for layout in layouts:
        if layout.layer != picture.uv_layer or layout.part not in picture.parts:
            continue
        part = parts[layout.part]
        here = np.isin(layout.island, picture.islands)
        points.append(part.positions)
        triangles.append(part.triangles[here] + offset)
        offset += len(part.positions)
    uv = np.ascontiguousarray(placed.uv.transpose(2, 0, 1).reshape(-1, 2))
    uv_triangles = np.arange(len(uv), dtype=np.int32).reshape(-1, 3)
    return corner_ids(np.concatenate(points), np.concatenate(triangles), uv, uv_triangles)[0]
