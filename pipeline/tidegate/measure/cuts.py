"""Where a surface is cut for its layout, against where its shading breaks."""

from __future__ import annotations

from collections.abc import Sequence
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from tidegate.geometry.areas import surface_areas
from tidegate.geometry.borders import border_sides, seams
from tidegate.geometry.corners import corner_columns
from tidegate.geometry.edges import edge_faces, edge_mates
from tidegate.geometry.islands import shared_surface
from tidegate.geometry.polygon_edges import polygon_numbers
from tidegate.geometry.topology import topology_mates
from tidegate.geometry.weld import corner_ids, point_ids
from tidegate.measure.islands import LaidOut
from tidegate.measure.spots import Spots, spots_of
from tidegate.model.facts import PartFacts
from tidegate.model.mesh import MeshPart


class Cuts:
    """One UV layer of one surface: a mesh at one node, with all of its parts that are painted on one map. parts: indexes into
    `Facts.parts`. Measured when first asked for and kept.

    Edges where the material changes are edges like others as long as both sides are painted on the same map. Where the map
    changes too, the surface ends here: it is cut there whatever the layout does.
    """

    def __init__(self, laid: Sequence[LaidOut], meshes: Sequence[MeshPart]) -> None:
        self.parts, self.uv_layer = tuple(one.part for one in laid), laid[0].layer
        self._laid, self._meshes = tuple(laid), tuple(meshes)
        self.shaded = all(mesh.normals is not None and mesh.normal_triangles is not None for mesh in meshes)

    @cached_property
    def _triangles(self) -> NDArray[np.int32]:
        """(m, 3) into the positions of all meshes one after the other."""
        return _one_after_another(
            [mesh.triangles for mesh in self._meshes], [len(mesh.positions) for mesh in self._meshes]
        )

    @cached_property
    def _positions(self) -> NDArray[np.float64]:
        return np.concatenate([mesh.positions for mesh in self._meshes])

    @cached_property
    def _island(self) -> NDArray[np.int32]:
        """(m,) island rows, -1 without UVs."""
        return np.concatenate([one.island for one in self._laid])

    @cached_property
    def _layout_corners(self) -> NDArray[np.int32]:
        """(m, 3) ids by position and UV, equal over the meshes."""
        if len(self._laid) == 1:
            return self._laid[0].corners
        uv = np.concatenate([one.uv for one in self._laid], axis=2)
        rows = np.arange(3 * uv.shape[2], dtype=np.int32).reshape(-1, 3)
        rows[self._island < 0] = -1
        uv = np.ascontiguousarray(uv.transpose(2, 0, 1).reshape(-1, 2))
        return corner_ids(self._positions, self._triangles, uv, rows)[0]

    @cached_property
    def _layout_mates(self) -> NDArray[np.int32]:
        return self._laid[0].mates if len(self._laid) == 1 else edge_mates(self._layout_corners)

    @cached_property
    def islands(self) -> int:
        """Pieces that the layout has; islands that are cut by a change of material alone are one piece."""
        rows = np.unique(self._island[self._island >= 0])
        if len(self._laid) == 1:
            return len(rows)
        label = np.where(self._island >= 0, np.searchsorted(rows, self._island), -1).astype(np.int32)
        return shared_surface(self._layout_corners, label, len(rows))[1]

    @cached_property
    def _corners(self) -> NDArray[np.int32]:
        if len(self._laid) == 1:
            return self._laid[0].surface.corners
        return np.take(point_ids(self._positions)[0], self._triangles)

    @cached_property
    def _polygon(self) -> NDArray[np.int32] | None:
        return polygon_numbers([mesh.polygon for mesh in self._meshes], [len(mesh.triangles) for mesh in self._meshes])

    @cached_property
    def _mates(self) -> NDArray[np.int32]:
        """Of the surface: triangles without area have no edges, and a diagonal of a polygon is an edge inside it only."""
        return topology_mates(self._corners, self._polygon)

    @cached_property
    def _xyz(self) -> NDArray[np.float64]:
        if len(self._laid) == 1:
            return self._laid[0].surface.xyz
        return corner_columns(self._positions, self._triangles)

    @cached_property
    def surface(self) -> float:
        """Square metres."""
        areas = self._laid[0].surface.areas if len(self._laid) == 1 else surface_areas(self._xyz)
        return float(areas.sum())

    @cached_property
    def seam_length(self) -> float:
        """Metres of edge that the layout cuts; an edge counts once."""
        return seams(border_sides(self._layout_mates, self._island), self._mates, self._xyz).total

    @cached_property
    def _inner(self) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
        """The two sides of every edge between two triangles that both have UVs."""
        two = np.flatnonzero((edge_faces(self._mates) == 2) & np.repeat(self._island >= 0, 3))
        order = two[np.argsort(self._mates[two], kind="stable")]
        same = np.flatnonzero(self._mates[order][1:] == self._mates[order][:-1])
        return order[same], order[same + 1]

    @cached_property
    def _cut(self) -> NDArray[np.bool_]:
        """Of the edges of `_inner`, those that the layout cuts."""
        first, second = self._inner
        cut: NDArray[np.bool_] = self._layout_mates[first] != self._layout_mates[second]
        return cut

    @cached_property
    def _break(self) -> NDArray[np.float64]:
        """(e,) degrees between the vertex normals on both sides of each edge of `_inner`, at the worse end."""
        first, second = self._inner
        vectors = [mesh.normals for mesh in self._meshes if mesh.normals is not None]
        faces = [mesh.normal_triangles for mesh in self._meshes if mesh.normal_triangles is not None]
        if not self.shaded:
            return np.full(len(first), np.nan)
        normals, rows = np.concatenate(vectors), _one_after_another(faces, [len(some) for some in vectors])
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


def _one_after_another(faces: Sequence[NDArray[np.int32]], lengths: Sequence[int]) -> NDArray[np.int32]:
    """Index rows into lists that are put one after the other; -1 stays."""
    starts = np.cumsum([0, *lengths[:-1]])
    moved = [np.where(some < 0, some, some + start) for some, start in zip(faces, starts.tolist(), strict=True)]
    return np.concatenate(moved).astype(np.int32)


def measure_cuts(
    parts: Sequence[PartFacts], layouts: Sequence[LaidOut], meshes: Sequence[MeshPart]
) -> tuple[Cuts, ...]:
    """Cuts of every UV layer of every surface, in the order in which the layouts first name them."""
    surfaces: dict[tuple[str, int, str, str, str, int, str], list[LaidOut]] = {}
    for laid in layouts:
        part, mesh = parts[laid.part], meshes[laid.part]
        key = (part.file, mesh.node_number, part.node, part.mesh, part.role, laid.layer, laid.driving.key)
        surfaces.setdefault(key, []).append(laid)
    return tuple(Cuts(members, [meshes[laid.part] for laid in members]) for members in surfaces.values())
