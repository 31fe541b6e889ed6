"""Seam edges of a picture: edges of the surface that lie in the tile twice, with both places."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from tidegate.geometry.polygon_edges import polygon_numbers
from tidegate.geometry.topology import topology_mates
from tidegate.geometry.weld import point_ids
from tidegate.measure.islands import LaidOut
from tidegate.model.facts import IslandColumns, PartFacts, Picture
from tidegate.model.mesh import MeshPart
from tidegate.pixels.seam_points import SeamEdges

SHARPEST = (
    0.766  # cosine of 40 degrees: across a sharper edge the surface is not looked along; common practice, no source
)
SMOOTH = 0.9994  # cosine of 2 degrees: shading that turns less at an edge goes on across it; common practice, no source
SQUARE = 0.08  # of the edge, by which the third corner of a triangle may lie beside where square texels would put it


class _Body(NamedTuple):
    """The parts of one mesh at one node, one after the other. points: (m, 3) ids of places. xyz: (m, 3, 3) corner, axis.
    shading: (m, 3, 3) unit normals at the corners, NaN where none are stated. uv: (3, 2, m). island: (m,) index into the
    picture's rows, -1 for others. material: (m,) number of its material. polygon: (m,) number of its polygon, or None."""

    points: NDArray[np.int32]
    xyz: NDArray[np.float64]
    shading: NDArray[np.float64]
    uv: NDArray[np.float64]
    island: NDArray[np.int32]
    material: NDArray[np.int32]
    polygon: NDArray[np.int32] | None


def seam_edges(
    columns: IslandColumns,
    picture: Picture,
    layouts: Sequence[LaidOut],
    parts: Sequence[MeshPart],
    facts: Sequence[PartFacts],
    rows: NDArray[np.int64],
) -> SeamEdges:
    """Seams within each body between triangles that meet at less than 40 degrees; sharper edges break the picture anyway.

    A body is one mesh at one node: where its parts share the picture, the border of two materials is a seam as well.
    parts, facts: the mesh parts in the order of `LaidOut.part`. rows: island rows of the picture; the islands of the result
    are indices into it. Edges of three triangles or more are left out.
    """
    local = np.full(len(columns) + 1, -1, dtype=np.int32)
    local[rows] = np.arange(len(rows), dtype=np.int32)
    bodies: dict[tuple[str, str, str, int], list[LaidOut]] = {}
    for layout in layouts:
        if layout.layer == picture.uv_layer and layout.part in picture.parts:
            of = facts[layout.part]
            bodies.setdefault((of.file, of.node, of.mesh, parts[layout.part].node_number), []).append(layout)
    found = [
        _seams_of(_body(columns, members, parts, facts, local), (picture.width, picture.height))
        for members in bodies.values()
    ]
    return SeamEdges(*(np.concatenate(column) for column in zip(*found, strict=True)))


def _body(
    columns: IslandColumns,
    members: Sequence[LaidOut],
    parts: Sequence[MeshPart],
    facts: Sequence[PartFacts],
    local: NDArray[np.int32],
) -> _Body:
    names = sorted({facts[layout.part].material for layout in members})
    meshes = [parts[layout.part] for layout in members]
    starts = np.cumsum([0, *(len(mesh.positions) for mesh in meshes)])
    corners = np.concatenate([mesh.triangles + start for mesh, start in zip(meshes, starts, strict=False)])
    positions = np.concatenate([mesh.positions for mesh in meshes])
    uv = [layout.uv for layout in members]
    if columns.corner.any():
        uv = [layout.uv - columns.corner[layout.island].T[None].astype(np.float64) for layout in members]
    return _Body(
        points=point_ids(positions)[0][corners].astype(np.int32),
        xyz=positions[corners],
        shading=np.concatenate([_shading(mesh) for mesh in meshes]),
        uv=np.concatenate(uv, axis=2),
        island=np.concatenate([local[layout.island] for layout in members]),
        material=np.concatenate(
            [np.full(len(layout.island), names.index(facts[layout.part].material), np.int32) for layout in members]
        ),
        polygon=polygon_numbers([mesh.polygon for mesh in meshes], [len(mesh.triangles) for mesh in meshes]),
    )


def _shading(mesh: MeshPart) -> NDArray[np.float64]:
    """(m, 3, 3) unit normals at the corners of every triangle, NaN where there are none."""
    if mesh.normals is None or mesh.normal_triangles is None or not len(mesh.normals):
        return np.full((len(mesh.triangles), 3, 3), np.nan)
    found = mesh.normals[np.maximum(mesh.normal_triangles, 0)]
    length = np.linalg.norm(found, axis=2, keepdims=True)
    stated = (length > 0) & (mesh.normal_triangles >= 0)[:, :, None]
    return np.asarray(np.divide(found, length, out=np.full_like(found, np.nan), where=stated))


def _seams_of(body: _Body, size: tuple[int, int]) -> tuple[NDArray[np.generic], ...]:
    surface = topology_mates(body.points, body.polygon)
    side = np.flatnonzero(surface >= 0)
    order = side[np.argsort(surface[side], kind="stable")]
    edge = surface[order]
    starts = np.flatnonzero(np.append(True, edge[1:] != edge[:-1])) if len(edge) else np.zeros(0, np.int64)
    pairs = starts[np.diff(np.append(starts, len(edge))) == 2]
    one, other = order[pairs], order[pairs + 1]
    normal = _face_normals(body.xyz)
    together = (body.island[one // 3] >= 0) & (body.island[other // 3] >= 0)
    together &= (normal[one // 3] * normal[other // 3]).sum(axis=1) >= SHARPEST
    one, other = one[together], other[together]
    a, b = _ends(body.uv, one), _ends(body.uv, other)
    # Both sides list their ends in one order on the surface.
    turned = body.points[one // 3, one % 3] != body.points[other // 3, other % 3]
    b = np.where(turned[:, None, None], b[:, ::-1], b)
    cut = (a != b).any(axis=(1, 2))
    one, other, a, b, turned = one[cut], other[cut], a[cut], b[cut], turned[cut]
    inner_a, inner_b = (body.uv[(s % 3 + 2) % 3, :, s // 3] for s in (one, other))
    return (
        a,
        b,
        inner_a,
        inner_b,
        body.island[one // 3],
        body.island[other // 3],
        body.material[one // 3] != body.material[other // 3],
        _shading_goes_on(body, normal, one, other, turned) & _square(body, one, size) & _square(body, other, size),
    )


def _shading_goes_on(
    body: _Body,
    normal: NDArray[np.float64],
    one: NDArray[np.int64],
    other: NDArray[np.int64],
    turned: NDArray[np.bool_],
) -> NDArray[np.bool_]:
    """Whether both sides are shaded alike along the edge: by stated normals at both ends, else by the faces."""
    ends_of = [
        np.stack([body.shading[s // 3, s % 3], body.shading[s // 3, (s % 3 + 1) % 3]], axis=1) for s in (one, other)
    ]
    second = np.where(turned[:, None, None], ends_of[1][:, ::-1], ends_of[1])
    alike = (ends_of[0] * second).sum(axis=2)
    faces = (normal[one // 3] * normal[other // 3]).sum(axis=1)
    return np.asarray(np.where(np.isnan(alike), faces[:, None], alike).min(axis=1, initial=1.0) >= SMOOTH)


def _square(body: _Body, side: NDArray[np.int64], size: tuple[int, int]) -> NDArray[np.bool_]:
    """Whether texels lie square on the triangles at these sides: then angles in the map are angles on the surface."""
    at, corner = side // 3, side % 3
    uv = body.uv.transpose(2, 0, 1) * np.array(size, float)
    found = []
    for place in (uv, body.xyz):
        start, end, third = (place[at, (corner + step) % 3] for step in range(3))
        along, inner = end - start, third - start
        length = np.maximum((along * along).sum(axis=1), 1e-30)
        foot = (along * inner).sum(axis=1) / length
        found.append((foot, np.linalg.norm(inner - foot[:, None] * along, axis=1) / np.sqrt(length)))
    room = SQUARE * np.maximum(1.0, found[1][1])
    return np.asarray((np.abs(found[0][0] - found[1][0]) <= room) & (np.abs(found[0][1] - found[1][1]) <= room))


def _ends(uv: NDArray[np.float64], side: NDArray[np.int64]) -> NDArray[np.float64]:
    return np.stack([uv[side % 3, :, side // 3], uv[(side % 3 + 1) % 3, :, side // 3]], axis=1)


def _face_normals(xyz: NDArray[np.float64]) -> NDArray[np.float64]:
    cross = np.cross(xyz[:, 1] - xyz[:, 0], xyz[:, 2] - xyz[:, 0])
    length = np.linalg.norm(cross, axis=1, keepdims=True)
    return np.asarray(np.divide(cross, length, out=np.zeros_like(cross), where=length > 0))
