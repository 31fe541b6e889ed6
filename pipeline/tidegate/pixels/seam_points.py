"""Seam edges, and the points along them at which both sides are read."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

SPACING = 1.0  # texels along the edge from one point to the next
MOST_POINTS = 64  # of one edge


@dataclass(frozen=True, slots=True, eq=False)
class SeamEdges:
    """n seam edges. a, b: (n, 2, 2) UV, V up, both ends on side A and on side B, in the same order on the surface.

    inner_a, inner_b: (n, 2) UV of a point inside the island on that side, the far corner of the triangle at the edge.
    island_a, island_b: (n,) island numbers. materials: (n,) whether the sides wear different materials, None for nowhere.
    shaded: (n,) whether normals can be compared there: the shading goes on across the edge and texels lie square on the surface.
    """

    a: NDArray[np.float64]
    b: NDArray[np.float64]
    inner_a: NDArray[np.float64]
    inner_b: NDArray[np.float64]
    island_a: NDArray[np.int32]
    island_b: NDArray[np.int32]
    materials: NDArray[np.bool_] | None = None
    shaded: NDArray[np.bool_] | None = None

    def of_normals(self) -> SeamEdges:
        """Those across which normals can be compared."""
        if self.shaded is None:
            return self
        kept = self.shaded
        ends = (self.a[kept], self.b[kept], self.inner_a[kept], self.inner_b[kept])
        materials = None if self.materials is None else self.materials[kept]
        return SeamEdges(*ends, self.island_a[kept], self.island_b[kept], materials, kept[kept])


class SeamPoints:
    """Points along every edge. edge: (k,) the edge of each. good: (k,) both sides have a place and a side that is inside.

    along, into: for side A and B (n, 2) unit vectors along each edge and across it into the island, zeros without extent.
    """

    def __init__(self, edges: SeamEdges, size: NDArray[np.int64]) -> None:
        """size: width, height of the map."""
        self._islands = (edges.island_a, edges.island_b)
        self._ends = tuple(texels(ends, size) for ends in (edges.a, edges.b))
        inner = tuple(texels(point, size) for point in (edges.inner_a, edges.inner_b))
        frames = [_frame(ends, point) for ends, point in zip(self._ends, inner, strict=True)]
        self.along, self.into = tuple(f[0] for f in frames), tuple(f[1] for f in frames)
        length = np.max([np.linalg.norm(ends[:, 1] - ends[:, 0], axis=1) for ends in self._ends], axis=0)
        count = np.clip(np.ceil(np.nan_to_num(length) / SPACING), 1, MOST_POINTS).astype(np.int64)
        self.edge = np.repeat(np.arange(len(edges.a)), count)
        order = np.arange(len(self.edge)) - np.repeat(np.cumsum(count) - count, count)
        self._part = ((order + 0.5) / count[self.edge])[:, None]
        finite = [np.isfinite(self.at(side, 1.0)).all(axis=1) for side in (0, 1)]
        self.good: NDArray[np.bool_] = np.asarray(finite[0] & finite[1])
        for into in self.into:
            self.good &= (into[self.edge] != 0).any(axis=1)

    def at(self, side: int, reach: float) -> NDArray[np.float64]:
        """(k, 2) places in texels, `reach` texels inside side A (0) or B (1)."""
        ends, into = self._ends[side], self.into[side]
        straight = ends[self.edge, 0] * (1 - self._part) + ends[self.edge, 1] * self._part
        return np.asarray(straight + into[self.edge] * reach)

    def on_island(self, labels: NDArray[np.int32] | None, side: int, place: NDArray[np.float64]) -> NDArray[np.bool_]:
        """(k,) whether each place can be read on its own island. labels: raster of the map's size, None: not looked at."""
        if labels is None:
            return self.good
        height, width = labels.shape
        x = np.floor(np.where(self.good, place[:, 0], 0)).astype(np.int64) % width
        y = np.floor(np.where(self.good, place[:, 1], 0)).astype(np.int64) % height
        return np.asarray(self.good & (labels[y, x] == self._islands[side][self.edge]))


def texels(uv: NDArray[np.float64], size: NDArray[np.int64]) -> NDArray[np.float64]:
    """UV with V up to texels from the upper left corner."""
    return np.stack([uv[..., 0] * size[0], (1 - uv[..., 1]) * size[1]], axis=-1)


def _frame(ends: NDArray[np.float64], inner: NDArray[np.float64]) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Unit vectors along each edge and across it towards the inner point; zeros where the edge or the triangle has no extent."""
    along = ends[:, 1] - ends[:, 0]
    length = np.linalg.norm(along, axis=1, keepdims=True)
    along = np.divide(along, length, out=np.zeros_like(along), where=length > 0)
    across = np.stack([-along[:, 1], along[:, 0]], axis=1)
    side = np.sign(((inner - ends[:, 0]) * across).sum(axis=1, keepdims=True))
    return along, across * side
