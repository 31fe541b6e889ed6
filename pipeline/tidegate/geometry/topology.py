"""How the triangles of a mesh hang together, whatever its UVs: borders, crowded edges, fans, winding, pieces.

Everything rests on ids of positions (`weld.point_ids`), so vertices split for normals or UVs change nothing.
`corners` is (m, 3) int32: the position id of each corner.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from .components import components
from .edges import edge_faces, edge_mates, side_ends
from .matching import representatives
from .polygon_edges import polygon_mates


class EdgeFaults(NamedTuple):
    """Sides (3 t + s), one per edge, ascending. open: edges with one triangle. crowded: with more than two.
    turned: with two triangles that run along it the same way, so their fronts disagree."""

    open: NDArray[np.int64]
    crowded: NDArray[np.int64]
    turned: NDArray[np.int64]


class Pieces(NamedTuple):
    """label: (m,) int32 piece of each triangle, joined through shared positions. total: how many."""

    label: NDArray[np.int32]
    total: int


def drawn_triangles(corners: NDArray[np.int32]) -> NDArray[np.bool_]:
    """(m,) whether a triangle has three different corners. The others have no surface and take no part in topology."""
    a, b, c = corners[:, 0], corners[:, 1], corners[:, 2]
    different: NDArray[np.bool_] = (a != b) & (b != c) & (c != a)
    return different


def topology_mates(corners: NDArray[np.int32], polygon: NDArray[np.int32] | None = None) -> NDArray[np.int32]:
    """`edges.edge_mates` of the triangles that have three different corners; -1 for the sides of the others.

    polygon: (m,) number of the polygon each triangle was cut from, where the mesh has polygons: edges are then those of
    the polygons, and a diagonal is an edge inside its own polygon only.
    """
    collapsed = ~drawn_triangles(corners)
    if collapsed.any():
        corners = np.where(collapsed[:, None], np.int32(-1), corners)
    return edge_mates(corners) if polygon is None else polygon_mates(corners, polygon)


def edge_faults(corners: NDArray[np.int32], mates: NDArray[np.int32] | None = None) -> EdgeFaults:
    """Open, crowded and turned edges. mates: `topology_mates(corners)`, when at hand."""
    if mates is None:
        mates = topology_mates(corners)
    faces = edge_faces(mates)
    sides = np.arange(len(mates))
    start, end = side_ends(np.ascontiguousarray(corners))
    forward = np.where(mates >= 0, start < end, False)
    # Of an edge with two triangles one side must run up and one down the ids.
    upward = np.bincount(mates[forward], minlength=len(mates))
    # `mates` names one side of each edge for all of its sides, itself included.
    first = (mates == sides) & (mates >= 0)
    turned = first & (faces == 2) & (upward != 1)
    return EdgeFaults(np.flatnonzero(first & (faces == 1)), np.flatnonzero(first & (faces > 2)), np.flatnonzero(turned))


def split_fans(corners: NDArray[np.int32], mates: NDArray[np.int32] | None = None) -> NDArray[np.int32]:
    """Position ids, ascending, where triangles meet that form more than one fan: they touch in that point but cannot be
    walked around it from edge to edge."""
    if mates is None:
        mates = topology_mates(corners)
    count = len(corners)
    flat = np.ascontiguousarray(corners).reshape(-1)
    sides = np.flatnonzero((mates >= 0) & (mates != np.arange(len(mates), dtype=np.int32)))
    other = mates[sides].astype(np.int64)
    # Corners are the nodes: two corners of one point hang together when their triangles share an edge at it.
    start, start_next = sides, (sides // 3) * 3 + (sides % 3 + 1) % 3
    there, there_next = other, (other // 3) * 3 + (other % 3 + 1) % 3
    along = flat[start] == flat[there]
    one = np.concatenate([start, start_next])
    two = np.concatenate([np.where(along, there, there_next), np.where(along, there_next, there)])
    fan, total = components(one, two, 3 * count)
    used = np.repeat(drawn_triangles(corners), 3)
    point = np.full(total, -1, np.int64)
    point[fan[used]] = flat[used]
    meets = np.bincount(point[point >= 0], minlength=int(flat.max()) + 1 if count else 0)
    return np.flatnonzero(meets > 1).astype(np.int32)


def repeated_triangles(
    corners: NDArray[np.int32], mates: NDArray[np.int32] | None = None
) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """Triangles on the three corners of an earlier one: facing the same way (duplicates), and facing the other way.

    The second are the back of a sheet modelled twice on the spot, which flickers. Both ascending.
    mates: `topology_mates(corners)`, when at hand.
    """
    if mates is None:
        mates = topology_mates(corners)
    drawn = _maybe_repeated(mates)
    ordered = np.sort(corners[drawn], axis=1).astype(np.uint64)
    low, middle, high = (np.ascontiguousarray(ordered[:, axis]) for axis in range(3))
    found = representatives([low << np.uint64(32) | middle, high]).astype(np.int64)
    # Put the triangle's lowest corner first; the one after it tells which way it faces.
    turn = np.argmin(corners[drawn], axis=1)
    after = corners[drawn, (turn + 1) % 3].astype(np.uint64)
    right = after == middle
    # Sort by group and index: the first of each group stands, the rest repeat it.
    order = np.lexsort((np.arange(len(found)), found))
    opens = np.append(True, found[order][1:] != found[order][:-1])[: len(order)]
    head = order[np.flatnonzero(opens)][np.cumsum(opens) - 1] if len(order) else order
    repeats, stands = order[~opens], head[~opens]
    same = right[repeats] == right[stands]
    return np.sort(drawn[repeats[same]]), np.sort(drawn[repeats[~same]])


def _maybe_repeated(mates: NDArray[np.int32]) -> NDArray[np.int64]:
    """The few triangles that share all three edges with others, and not each edge with another one."""
    faces = edge_faces(mates)
    # Of an edge with two sides the sum of both numbers, less one's own, is the other's.
    paired = np.flatnonzero(faces == 2)
    both = np.zeros(len(mates), np.int64)
    np.add.at(both, mates[paired].astype(np.int64), paired)
    other = np.full(len(mates), -1, np.int64)
    other[paired] = (both[mates[paired]] - paired) // 3
    side, beyond = faces.reshape(-1, 3), other.reshape(-1, 3)
    return np.flatnonzero(
        (side[:, 0] > 1)
        & (side[:, 1] > 1)
        & (side[:, 2] > 1)
        & (
            (side[:, 0] > 2)
            | (side[:, 1] > 2)
            | (side[:, 2] > 2)
            | ((beyond[:, 0] == beyond[:, 1]) & (beyond[:, 1] == beyond[:, 2]))
        )
    )


def unused_points(triangles: NDArray[np.int32], count: int) -> NDArray[np.int64]:
    """Numbers of the vertices, of `count`, that no triangle uses."""
    used = np.zeros(count, np.bool_)
    used[triangles.reshape(-1)] = True
    return np.flatnonzero(~used)


def pieces(corners: NDArray[np.int32], id_count: int) -> Pieces:
    """Parts of the mesh that share no position with one another, numbered by their first triangle."""
    flat = np.ascontiguousarray(corners)
    point, _ = components(np.concatenate([flat[:, 0], flat[:, 1]]), np.concatenate([flat[:, 1], flat[:, 2]]), id_count)
    of_triangle = point[flat[:, 0]]
    seen, first = np.unique(of_triangle, return_index=True)
    rank = np.empty(len(seen), np.int32)
    rank[np.argsort(first)] = np.arange(len(seen), dtype=np.int32)
    return Pieces(rank[np.searchsorted(seen, of_triangle)], len(seen))


def closed_pieces(label: NDArray[np.int32], count: int, faults: EdgeFaults) -> NDArray[np.bool_]:
    """(count,) whether a piece is a closed surface with one front: no open, crowded or turned edge."""
    closed = np.ones(count, np.bool_)
    for sides in faults:
        closed[label[sides // 3]] = False
    return closed


def signed_volumes(xyz: NDArray[np.float64], label: NDArray[np.int32], count: int) -> NDArray[np.float64]:
    """(count,) volume enclosed by each piece, positive where fronts face outwards. It means something for closed pieces
    only (`closed_pieces`). xyz: (3, 3, m) corner columns.

    Divergence theorem: a sum of tetrahedra over the triangles, taken from each piece's first corner, not from the origin,
    so that a small thing far away keeps its digits.
    """
    origin = np.zeros((3, count))
    for axis in range(3):
        origin[axis, label[::-1]] = xyz[0, axis, ::-1]
    a, b, c = (xyz[corner] - origin[:, label] for corner in range(3))
    product = (
        a[0] * (b[1] * c[2] - b[2] * c[1]) + a[1] * (b[2] * c[0] - b[0] * c[2]) + a[2] * (b[0] * c[1] - b[1] * c[0])
    )
    return np.bincount(label, weights=product / 6.0, minlength=count).astype(np.float64)
