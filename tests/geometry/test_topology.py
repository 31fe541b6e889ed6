from __future__ import annotations

import igl
import numpy as np
import pytest
import trimesh
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.geometry.shapes import box, grid
from tidegate.geometry import topology
from tidegate.geometry.corners import corner_columns
from tidegate.geometry.weld import point_ids


def welded(points: np.ndarray, triangles: np.ndarray) -> np.ndarray:
    return point_ids(points)[0][triangles]


def ends(corners: np.ndarray, sides: np.ndarray) -> list[set[int]]:
    flat = corners.ravel()
    return [{int(flat[s]), int(flat[s // 3 * 3 + (s % 3 + 1) % 3])} for s in sides]


def test_a_cube_has_no_fault() -> None:
    points, triangles = box()
    faults = topology.edge_faults(welded(points, triangles))
    assert [len(sides) for sides in faults] == [0, 0, 0]
    assert len(topology.split_fans(welded(points, triangles))) == 0


def test_a_cube_without_a_face_is_open_along_it() -> None:
    points, triangles = box()
    corners = welded(points, triangles[2:])
    faults = topology.edge_faults(corners)
    # The face taken off has corners 0 2 3 1.
    assert sorted(map(sorted, ends(corners, faults.open))) == [[0, 1], [0, 2], [1, 3], [2, 3]]
    assert len(faults.crowded) == len(faults.turned) == 0


def test_a_fin_makes_a_crowded_edge_and_not_a_turned_one() -> None:
    points, triangles = box()
    points = np.concatenate([points, [[2.0, 2.0, 2.0]]])
    corners = welded(points, np.concatenate([triangles, [[0, 1, 8]]]))
    faults = topology.edge_faults(corners)
    assert ends(corners, faults.crowded) == [{0, 1}]
    assert len(faults.turned) == 0
    assert sorted(map(sorted, ends(corners, faults.open))) == [[0, 8], [1, 8]]


def test_a_triangle_turned_round_disagrees_along_its_three_edges() -> None:
    points, triangles = box()
    triangles = triangles.copy()
    triangles[0] = triangles[0, ::-1]
    corners = welded(points, triangles)
    turned = topology.edge_faults(corners).turned
    assert sorted(map(sorted, ends(corners, turned))) == [[0, 2], [0, 3], [2, 3]]


@settings(max_examples=40, deadline=None)
@given(st.integers(0, 2**32 - 1), st.integers(1, 60), st.integers(4, 30))
def test_edges_agree_with_counting(seed: int, count: int, points: int) -> None:
    triangles = np.random.default_rng(seed).integers(0, points, (count, 3)).astype(np.int32)
    drawn = topology.drawn_triangles(triangles)
    edges: dict[frozenset[int], list[bool]] = {}
    for a, b, c in triangles[drawn].tolist():
        for p, q in ((a, b), (b, c), (c, a)):
            edges.setdefault(frozenset((p, q)), []).append(p < q)
    faults = topology.edge_faults(triangles)
    named = [sorted(map(sorted, ends(triangles, sides))) for sides in faults]
    assert named[0] == sorted(sorted(e) for e, up in edges.items() if len(up) == 1)
    assert named[1] == sorted(sorted(e) for e, up in edges.items() if len(up) > 2)
    assert named[2] == sorted(sorted(e) for e, up in edges.items() if len(up) == 2 and up[0] == up[1])


def test_topology_agrees_with_trimesh_and_libigl() -> None:
    mesh = trimesh.creation.torus(3.0, 1.0)
    points = np.asarray(mesh.vertices, float)
    triangles = np.asarray(mesh.faces, np.int32)
    holed = np.delete(triangles, [5, 6, 200, 301], axis=0)
    corners = welded(points, holed)
    by_igl = {frozenset(e) for e in np.asarray(igl.boundary_facets(holed.astype(np.int64))[0]).tolist()}
    by_ours = {frozenset(e) for e in ends(holed, topology.edge_faults(corners).open)}
    assert by_ours == by_igl
    assert trimesh.Trimesh(points, triangles, process=False).is_watertight
    whole = topology.pieces(welded(points, triangles), len(points))
    faults = topology.edge_faults(welded(points, triangles))
    assert topology.closed_pieces(whole.label, whole.total, faults).tolist() == [True]
    volume = topology.signed_volumes(corner_columns(points, triangles), whole.label, whole.total)
    assert volume[0] == pytest.approx(mesh.volume, rel=1e-9)


@settings(max_examples=30, deadline=None)
@given(st.integers(0, 2**32 - 1), st.integers(1, 40))
def test_split_fans_agree_with_libigl_where_edges_are_not_crowded(seed: int, count: int) -> None:
    # Tetrahedra that may share points, never edges: every edge has two triangles.
    rng = np.random.default_rng(seed)
    tetrahedra, used = [], set()
    for _ in range(count):
        corners = rng.choice(40, 4, replace=False)
        edges = {frozenset((int(a), int(b))) for a in corners for b in corners if a != b}
        if not edges & used:
            used |= edges
            tetrahedra.append(corners)
    faces = np.array([t[[i, j, k]] for t in tetrahedra for i, j, k in ((0, 1, 2), (0, 3, 1), (1, 3, 2), (0, 2, 3))])
    found = topology.split_fans(faces.astype(np.int32))
    by_igl = np.asarray(igl.is_vertex_manifold(faces.astype(np.int64))).ravel().astype(bool)
    here = np.unique(faces)
    assert found.tolist() == [int(v) for v in here if not by_igl[v]]


def test_a_bow_tie_is_a_split_fan_and_a_fin_is_not() -> None:
    bow_tie = np.array([[0, 1, 2], [0, 3, 4]], np.int32)
    assert topology.split_fans(bow_tie).tolist() == [0]
    fin = np.array([[0, 1, 2], [1, 0, 3], [0, 1, 4]], np.int32)
    assert topology.split_fans(fin).tolist() == []
    # A triangle collapsed onto an edge is no second fan.
    collapsed = np.array([[0, 1, 2], [0, 0, 5]], np.int32)
    assert topology.split_fans(collapsed).tolist() == []


def test_repeated_triangles_same_way_and_other_way() -> None:
    corners = np.array(
        [[0, 1, 2], [3, 4, 5], [1, 2, 0], [2, 1, 0], [5, 4, 3], [4, 3, 5], [0, 1, 6], [7, 7, 8], [7, 7, 8]], np.int32
    )
    same, other = topology.repeated_triangles(corners)
    # 2 repeats 0; 3 is its back. 4 and 5 both face the other way than 3 4 5.
    assert same.tolist() == [2]
    assert other.tolist() == [3, 4, 5]
    none = topology.repeated_triangles(np.zeros((0, 3), np.int32))
    assert len(none[0]) == len(none[1]) == 0


@settings(max_examples=40, deadline=None)
@given(st.integers(0, 2**32 - 1), st.integers(1, 80), st.integers(3, 12))
def test_repeated_triangles_agree_with_a_dictionary(seed: int, count: int, points: int) -> None:
    corners = np.random.default_rng(seed).integers(0, points, (count, 3)).astype(np.int32)
    first: dict[frozenset[int], list[int]] = {}
    same, other = [], []
    for t, row in enumerate(corners.tolist()):
        if len(set(row)) < 3:
            continue
        stands = first.setdefault(frozenset(row), row)
        if stands is row:
            continue
        turn = row.index(stands[0])
        (same if row[turn:] + row[:turn] == stands else other).append(t)
    found = topology.repeated_triangles(corners)
    assert found[0].tolist() == same
    assert found[1].tolist() == other


def test_unused_points() -> None:
    assert topology.unused_points(np.array([[0, 2, 5]], np.int32), 7).tolist() == [1, 3, 4, 6]


def test_loose_pieces_share_no_position() -> None:
    points, triangles = box()
    far = points + np.array([5.0, 0, 0])
    corner_to_corner = points + 1.0
    whole = np.concatenate([points, far, corner_to_corner])
    corners = welded(whole, np.concatenate([triangles + 8, triangles, triangles + 16]).astype(np.int32))
    found = topology.pieces(corners, 24)
    # Two cubes meet in one corner: one piece, numbered after the far one, which comes first.
    assert found.total == 2
    assert found.label.tolist() == [0] * 12 + [1] * 24


def test_signed_volumes_tell_inward_fronts_also_far_from_the_origin() -> None:
    points, triangles = box(2.0)
    whole = np.concatenate([points, points + 1e6, points + np.array([9.0, 0, 0])])
    faces = np.concatenate([triangles, triangles[:, ::-1] + 8, triangles[2:] + 16]).astype(np.int32)
    corners = welded(whole, faces)
    pieces = topology.pieces(corners, 24)
    volume = topology.signed_volumes(corner_columns(whole, faces), pieces.label, pieces.total)
    np.testing.assert_allclose(volume[:2], [8.0, -8.0])
    closed = topology.closed_pieces(pieces.label, pieces.total, topology.edge_faults(corners))
    assert closed.tolist() == [True, True, False]


def test_splitting_vertices_changes_no_fault() -> None:
    sheet = grid(5, 4)
    apart = sheet.positions[sheet.triangles].reshape(-1, 3)
    one = topology.edge_faults(welded(sheet.positions, sheet.triangles))
    two = topology.edge_faults(welded(apart, np.arange(len(apart), dtype=np.int32).reshape(-1, 3)))
    assert [s.tolist() for s in one] == [s.tolist() for s in two]
    assert len(one.open) == 18
