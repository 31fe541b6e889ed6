"""Labelled faces of an OBJ file to mesh parts: one part a mesh and material, each with the points it uses."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from tidegate.model.mesh import MeshPart, UvLayer, frozen_array

if TYPE_CHECKING:
    from collections.abc import Iterator

    from numpy.typing import NDArray

    from .obj_scan import ObjArrays
    from .obj_statements import FaceLabels
    from .polygons import Triangulation


@dataclass(frozen=True, slots=True, eq=False)
class Points:
    """positions: (n, 3) float64 metres, Y up. normals: (p, 3). uv: (t, 2). colors: (n, 3), NaN where a vertex has none."""

    positions: NDArray[np.float64]
    normals: NDArray[np.float64]
    uv: NDArray[np.float64]
    colors: NDArray[np.float64] | None


def build_parts(
    points: Points, arrays: ObjArrays, labels: FaceLabels, cut: Triangulation, material_of: dict[str, int]
) -> tuple[MeshPart, ...]:
    """Parts by mesh name, then material name. material_of: number in the mesh file of each material name."""
    parts = []
    for mesh, material, triangles in _by_part(labels, cut.polygon):
        corners = cut.corners if triangles is None else cut.corners[triangles]
        faces = cut.polygon if triangles is None else cut.polygon[triangles]
        name = labels.material_names[material] if material >= 0 else ""
        used, placed = _compact(arrays.corners[0][corners])
        positions = points.positions if len(used) == len(points.positions) else points.positions[used]
        normals, normal_triangles = _optional(points.normals, arrays.corners[2], corners)
        uv, uv_triangles = _optional(points.uv, arrays.corners[1], corners)
        polygon, polygon_corners = _polygons(faces, arrays.counts)
        parts.append(
            MeshPart(
                node="",
                mesh=labels.mesh_names[mesh],
                material=material_of[name] if material >= 0 else -1,
                positions=frozen_array(positions),
                triangles=frozen_array(placed),
                uv_layers=() if uv is None or uv_triangles is None else (UvLayer(0, "vt", uv, uv_triangles),),
                normals=normals,
                normal_triangles=normal_triangles,
                colors=_colors(points.colors, used),
                polygon=polygon,
                polygon_corners=polygon_corners,
                groups=_group_names(labels, faces),
            )
        )
    return tuple(parts)


def used_vertices(arrays: ObjArrays) -> int:
    """How many positions at least one face uses."""
    used = np.zeros(len(arrays.vectors["v"]), dtype=bool)
    used[arrays.corners[0]] = True
    return int(np.count_nonzero(used))


def _by_part(labels: FaceLabels, polygon: NDArray[np.int32]) -> Iterator[tuple[int, int, NDArray[np.intp] | None]]:
    """Mesh, material, and the triangles of each part (None: all of them)."""
    materials = len(labels.material_names) + 1
    key = labels.mesh.astype(np.int64) * materials + labels.material + 1
    found = np.unique(key)
    names = ("", *labels.material_names)
    order = sorted(found.tolist(), key=lambda k: (labels.mesh_names[k // materials], names[k % materials], k))
    if len(order) == 1:
        yield order[0] // materials, order[0] % materials - 1, None
        return
    key_of_triangle = key[polygon]
    sorted_triangles = np.argsort(key_of_triangle, kind="stable")
    bounds = np.searchsorted(key_of_triangle[sorted_triangles], found)
    span = dict(
        zip(found.tolist(), zip(bounds.tolist(), [*bounds[1:].tolist(), len(polygon)], strict=True), strict=True)
    )
    for k in order:
        low, high = span[k]
        yield k // materials, k % materials - 1, sorted_triangles[low:high]


def _compact(index: NDArray[np.int32]) -> tuple[NDArray[np.intp], NDArray[np.int32]]:
    """The values that occur, ascending, and the array with each replaced by its place among them."""
    low, high = int(index.min()), int(index.max()) + 1
    if high - low > 8 * index.size + 1024:
        # A few corners far apart: a table over the whole span would cost each small part the size of the file.
        used, places = np.unique(index, return_inverse=True)
        return used.astype(np.intp), places.reshape(index.shape).astype(np.int32)
    seen = np.zeros(high - low, dtype=bool)
    local = index - low if low else index
    seen[local] = True
    if seen.all():
        return np.arange(low, high), local.astype(np.int32, copy=True)
    place = np.cumsum(seen, dtype=np.int32) - 1
    return np.flatnonzero(seen) + low, place[local]


def _optional(
    values: NDArray[np.float64], index: NDArray[np.int32], corners: NDArray[np.int32]
) -> tuple[NDArray[np.float64] | None, NDArray[np.int32] | None]:
    """Values and triangles for what faces may leave out. Every face has all of its indices, or -1 in all places."""
    if not len(values):
        return None, None
    wanted = index[corners]
    bare = wanted[:, 0] < 0
    if not bare.any():
        used, placed = _compact(wanted)
    elif bare.all():
        return None, None
    else:
        used, some = _compact(wanted[~bare])
        placed = np.full(wanted.shape, -1, dtype=np.int32)
        placed[~bare] = some
    return frozen_array(values if len(used) == len(values) else values[used]), frozen_array(placed)


def _polygons(
    faces: NDArray[np.int32], counts: NDArray[np.int32]
) -> tuple[NDArray[np.int32] | None, NDArray[np.int32] | None]:
    """Number of each triangle's polygon inside the part, and corners of each polygon; None when all are triangles."""
    first = np.ones(len(faces), dtype=bool)
    first[1:] = faces[1:] != faces[:-1]
    corners = counts[faces[first]]
    if int(corners.max()) == 3:
        return None, None
    return frozen_array(np.cumsum(first, dtype=np.int32) - 1), frozen_array(corners)


def _colors(colors: NDArray[np.float64] | None, used: NDArray[np.intp]) -> NDArray[np.float64] | None:
    if colors is None:
        return None
    part = colors[used]
    return None if np.isnan(part).any() else frozen_array(part)


def _group_names(labels: FaceLabels, faces: NDArray[np.int32]) -> tuple[str, ...]:
    if len(labels.group_names) == 1:
        return ()
    numbers, first = np.unique(labels.group[faces], return_index=True)
    in_order = numbers[np.argsort(first)].tolist()
    return tuple(dict.fromkeys(name for number in in_order for name in labels.group_names[number]))
