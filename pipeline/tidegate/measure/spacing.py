"""Room between islands of a picture and to its border, in texels, and the mip level that room keeps clean."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from tidegate.geometry.borders import border_sides, side_points
from tidegate.geometry.components import components
from tidegate.geometry.islands import shared_surface
from tidegate.geometry.mip import clean_level
from tidegate.geometry.spacing import island_gaps
from tidegate.geometry.weld import corner_ids
from tidegate.measure.coverage import Coverage
from tidegate.measure.islands import LaidOut
from tidegate.measure.placed import Placed
from tidegate.model.facts import IslandColumns, Picture
from tidegate.model.mesh import MeshPart
from tidegate.model.selection import paintable

REACH = 128.0  # texels; wider gaps are no one's concern


@dataclass(frozen=True, slots=True)
class Gap:
    """first, second: rows of two islands, first < second. texels: room between them. pixel: (x, y) middle of the gap.
    clean_mip: the last smaller version of the map in which the two do not mix, -1 for none."""

    first: int
    second: int
    texels: float
    pixel: tuple[float, float]
    clean_mip: int


@dataclass(frozen=True, slots=True, eq=False)
class Spacing:
    """Spacing of one picture. pairs: every island with its nearest neighbour within REACH, each pair once, sorted by rows.
    border: (i,) texels from each island of the prop to the border of its tile, NaN for islands of other pictures. Islands
    without room for paint (`selection.paintable`) need none around them and are left out of both."""

    picture: Picture
    pairs: tuple[Gap, ...]
    border: NDArray[np.float64]


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
    sides = border_sides(placed.mates, placed.local)
    room = paintable(columns, picture, placed.rows)
    if not room.all():
        sides = sides[room[placed.local[sides // 3]]]
    start, end = side_points(placed.texels, sides)
    group = _one_surface(placed, picture, layouts, parts, count, cover)
    gaps = island_gaps(start, end, placed.local[sides // 3], count, REACH, group)
    found: dict[tuple[int, int], Gap] = {}
    for local in np.flatnonzero(gaps.neighbour >= 0):
        first, second = sorted((int(placed.rows[local]), int(placed.rows[gaps.neighbour[local]])))
        texels = round(float(gaps.gap[local]), 6)
        pixel = (round(float(gaps.point[local, 0]), 3), round(float(gaps.point[local, 1]), 3))
        found.setdefault((first, second), Gap(first, second, texels, pixel, clean_level(texels)))
    border = np.full(len(columns), np.nan)
    rows = placed.rows[room]
    corner, box = columns.corner[rows], columns.bounds[rows]
    border[rows] = np.round(
        np.minimum(
            np.minimum(box[:, 0] - corner[:, 0], corner[:, 0] + 1 - box[:, 2]) * picture.width,
            np.minimum(box[:, 1] - corner[:, 1], corner[:, 1] + 1 - box[:, 3]) * picture.height,
        ),
        4,
    )
    return Spacing(picture, tuple(found[key] for key in sorted(found)), border)


def _one_surface(
    placed: Placed,
    picture: Picture,
    layouts: Sequence[LaidOut],
    parts: Sequence[MeshPart],
    count: int,
    cover: Coverage,
) -> NDArray[np.int32]:
    """Groups of islands between which no gap is wanted: cut only by a change of material, overlapping, or stacked."""
    first: list[int] = []
    second: list[int] = []
    where = {int(row): number for number, row in enumerate(placed.rows)}
    together = [group.islands for group in cover.overlaps] + list(cover.stacks)
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
