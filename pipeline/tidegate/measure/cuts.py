"""Where the surface of a part is cut for its layout, against where its shading breaks."""

from __future__ import annotations

from collections.abc import Sequence
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from tidegate.geometry.areas import surface_areas
from tidegate.geometry.borders import border_sides, seams
from tidegate.geometry.corners import corner_columns
from tidegate.geometry.edges import edge_faces, edge_mates
from tidegate.geometry.weld import point_ids
from tidegate.measure.islands import LaidOut
from tidegate.measure.spots import Spots, spots_of
from tidegate.model.mesh import MeshPart


class Cuts:
    """One UV layer of one part. part: index into `Facts.parts`. Measured when first asked for and kept.

    Edges between parts (where the material changes) are not looked at: they are cut whatever the layout does.
    """

    def __init__(self, laid: LaidOut, mesh: MeshPart) -> None:
        self.part, self.uv_layer = laid.part, laid.layer
        self._laid, self._mesh = laid, mesh
        self.islands = len(np.unique(laid.island[laid.island >= 0]))
        self.shaded = mesh.normals is not None and mesh.normal_triangles is not None

    @cached_property
    def _corners(self) -> NDArray[np.int32]:
        return np.ascontiguousarray(point_ids(self._mesh.positions)[0][self._mesh.triangles])

    @cached_property
    def _mates(self) -> NDArray[np.int32]:
        return edge_mates(self._corners)

    @cached_property
    def _xyz(self) -> NDArray[np.float64]:
        return corner_columns(self._mesh.positions, self._mesh.triangles)

    @cached_property
    def surface(self) -> float:
        """Square metres."""
        return float(surface_areas(self._xyz).sum())

    @cached_property
    def seam_length(self) -> float:
        """Metres of edge that the layout cuts; an edge counts once."""
        return seams(border_sides(self._laid.mates, self._laid.island), self._mates, self._xyz).total

    @cached_property
    def _inner(self) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
        """The two sides of every edge between two triangles that both have UVs."""
        two = np.flatnonzero((edge_faces(self._mates) == 2) & np.repeat(self._laid.island >= 0, 3))
        order = two[np.argsort(self._mates[two], kind="stable")]
        same = np.flatnonzero(self._mates[order][1:] == self._mates[order][:-1])
        return order[same], order[same + 1]

    @cached_property
    def _cut(self) -> NDArray[np.bool_]:
        """Of the edges of `_inner`, those that the layout cuts."""
        cut: NDArray[np.bool_] = edge_faces(self._laid.mates)[self._inner[0]] == 1
        return cut

    @cached_property
    def _break(self) -> NDArray[np.float64]:
        """(e,) degrees between the vertex normals on both sides of each edge of `_inner`, at the worse end."""
        normals, rows = self._mesh.normals, self._mesh.normal_triangles
        first, second = self._inner
        if normals is None or rows is None:
            return np.full(len(first), np.nan)
        ids, flat = self._corners.reshape(-1), rows.reshape(-1)
        a = (first, first - first % 3 + (first % 3 + 1) % 3)
        b = (second, second - second % 3 + (second % 3 + 1) % 3)
        straight = ids[a[0]] == ids[b[0]]  # both sides run the same way: the two triangles face opposite ways
        worst = np.zeros(len(first))
        for end in range(2):
            one = normals[flat[a[end]]]
            other = normals[flat[np.where(straight, b[end], b[1 - end])]]
            worst = np.fmax(worst, _degrees_between(one, other))
        return worst

    def hard_and_whole(self, degrees: float) -> tuple[Spots, float]:
        """Edges where the shading breaks by more than so many degrees and the layout goes on, and their length in metres."""
        return self._edges((self._break > degrees) & ~self._cut)

    def smooth_and_cut(self, degrees: float) -> tuple[Spots, float]:
        """Edges that the layout cuts though the shading goes on within so many degrees, and their length in metres."""
        return self._edges((self._break <= degrees) & self._cut)

    def _edges(self, chosen: NDArray[np.bool_]) -> tuple[Spots, float]:
        sides = self._inner[0][chosen]
        start = self._xyz[sides % 3, :, sides // 3]
        end = self._xyz[(sides % 3 + 1) % 3, :, sides // 3]
        return spots_of((start + end) / 2.0), float(np.sqrt(((end - start) ** 2).sum(axis=1)).sum())


def _degrees_between(one: NDArray[np.float64], other: NDArray[np.float64]) -> NDArray[np.float64]:
    """Angle between vectors (e, 3); NaN where one has no direction."""
    with np.errstate(divide="ignore", invalid="ignore"):
        inner = (one * other).sum(axis=1) / np.sqrt((one * one).sum(axis=1) * (other * other).sum(axis=1))
    # To a millionth: an edge whose normals are equal has no break, whatever the rounding of the file.
    degrees: NDArray[np.float64] = np.degrees(np.arccos(np.clip(np.round(inner, 12), -1.0, 1.0)))
    return degrees


def measure_cuts(layouts: Sequence[LaidOut], meshes: Sequence[MeshPart]) -> tuple[Cuts, ...]:
    """Cuts of every UV layer of every part, in the order of the layouts."""
    return tuple(Cuts(laid, meshes[laid.part]) for laid in layouts)
