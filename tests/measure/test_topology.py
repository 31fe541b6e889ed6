"""Bodies: known answers, other libraries' answers, and what numbering and splitting must not change."""

from __future__ import annotations

from itertools import combinations
from pathlib import Path

import igl
import numpy as np
import pytest
import trimesh
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

from tests.geometry.shapes import box, grid, random_sheet, renumbered, split_apart
from tests.support.gltf_writer import GltfBuilder, write_glb
from tests.support.mesh_props import box_part, facts_of, material, mesh_file, part, prop
from tidegate.geometry.crossed_quads import FLAT
from tidegate.load.gltf import read_gltf
from tidegate.load.references import DropFolder
from tidegate.measure.topology import Body


def body(thing: object) -> Body:
    (one,) = facts_of(thing, "topology").topology
    return one


def summary(one: Body) -> tuple[object, ...]:
    """Everything that may not depend on how vertices are numbered or split."""
    pieces = one.pieces
    return (
        *(spots for spots in (one.open, one.crowded, one.turned, one.pinched, one.doubled, one.back_to_back, one.flat)),
        one.slivers(0.05),
        pieces.triangles.tolist(),
        pieces.closed.tolist(),
        pieces.volume.tolist(),
        pieces.low.tolist(),
        pieces.high.tolist(),
        pieces.dent.tolist(),
    )


def test_a_cube() -> None:
    one = body(box_part(2.0))
    for spots in (one.open, one.crowded, one.turned, one.pinched, one.doubled, one.back_to_back, one.flat):
        assert spots == (0, None)
    pieces = one.pieces
    assert (len(pieces), pieces.closed.tolist(), pieces.triangles.tolist()) == (1, [True], [12])
    assert pieces.volume[0] == pytest.approx(8.0)
    assert pieces.dent.tolist() == [0.0]
    assert pieces.diagonal[0] == pytest.approx(2.0 * 3**0.5)


def test_a_surface_goes_on_where_the_material_changes_and_ends_where_the_node_does() -> None:
    points, triangles = box()
    halves = [part(points, triangles[:5], material=0), part(points, triangles[5:], material=1)]
    iron, oak = material("iron"), material("oak")
    whole = mesh_file(*halves, nodes=(), materials=(iron, oak))
    assert [(one.parts, one.open.total) for one in facts_of(whole, "topology").topology] == [((0, 1), 0)]
    apart = mesh_file(*halves, materials=(iron, oak))  # a node each: two things, however they touch
    assert [one.open.total for one in facts_of(apart, "topology").topology] == [
        once(triangles[:5]),
        once(triangles[5:]),
    ]


def once(triangles: np.ndarray) -> int:
    """Edges with one triangle, counted in a plain way."""
    sides = np.sort(np.concatenate([triangles[:, [0, 1]], triangles[:, [1, 2]], triangles[:, [2, 0]]]), axis=1)
    return int((np.unique(sides, axis=0, return_counts=True)[1] == 1).sum())


def test_points_name_the_place_with_the_lowest_coordinates() -> None:
    points, triangles = box(2.0)
    # Without the face at z = -1 (triangles 0 and 1) the four edges around it are open; the leftmost is at x = -1, y = 0.
    assert body(part(points, triangles[2:])).open == (4, (-1.0, 0.0, -1.0))
    # A cube turned inside out by one triangle: its three edges disagree.
    turned = triangles.copy()
    turned[0] = turned[0][::-1]
    one = body(part(points, turned))
    assert one.turned.total == 3
    assert not one.pieces.closed[0]
    assert one.pieces.volume[0] == 0.0


def test_fins_copies_backs_and_points() -> None:
    square = [[0, 0, 0], [1, 0, 0], [1, 1, 0], [0, 1, 0]]
    fin = body(part([*square, [0.5, 0.5, 1]], [[0, 1, 2], [0, 2, 3], [0, 2, 4]]))
    assert fin.crowded == (1, (0.5, 0.5, 0.0))
    assert (fin.turned.total, fin.open.total) == (0, 6)
    copy = body(part(square, [[0, 1, 2], [0, 2, 3], [1, 2, 0]]))  # the first again, begun at another corner
    assert (copy.doubled, copy.back_to_back.total) == ((1, (round(2 / 3, 6), round(1 / 3, 6), 0.0)), 0)
    back = body(part(square, [[0, 1, 2], [0, 2, 3], [2, 1, 0], [3, 2, 0]]))
    assert (back.doubled.total, back.back_to_back.total) == (0, 2)
    for first in range(3):  # two face one way and one the other, whichever comes first: a copy and a back
        faces = np.roll([[0, 1, 2], [1, 2, 0], [2, 1, 0]], first, axis=0)
        heap = body(part(square[:3], faces))
        assert (heap.doubled.total, heap.back_to_back.total) == (1, 1)
    tie = body(part([[0, 0, 0], [1, 0, 0], [0, 1, 0], [-1, 0, 0], [0, -1, 0]], [[0, 1, 2], [0, 3, 4]]))
    assert tie.pinched == (1, (0.0, 0.0, 0.0))
    assert tie.pieces.triangles.tolist() == [2]  # they hang together by the point
    flat = body(part([[0, 0, 0], [1, 0, 0], [2, 0, 0], [0, 1, 0]], [[0, 1, 2], [0, 1, 3], [3, 3, 0]]))
    assert flat.flat.total == 2


def test_both_sides_of_a_sliver() -> None:
    def tall(height: float) -> Body:
        return body(part([[0, 0, 0], [1, 0, 0], [0.5, height, 0]], [[0, 1, 2]]))

    assert tall(0.0499).slivers(0.05).total == 1
    assert tall(0.0501).slivers(0.05).total == 0
    assert tall(0.0).slivers(0.05).total == 0 and tall(0.0).flat.total == 1  # without area is another fault


def test_a_dent_is_as_deep_as_the_neighbour_stands_ahead() -> None:
    points, triangles = box(2.0)
    # The middle of the top pushed in by 0.25: four triangles lean inwards; over each of their planes the opposite corner
    # stands ahead. Plane through two top corners and the dent: slope 0.25 over 1, so the far edge, 2 away, is
    # 2 * 0.25 / sqrt(1 + 0.25**2) ahead of it, and the triangle beside it meets that edge.
    top = [row for row in range(12) if (points[triangles[row]][:, 1] == 1.0).all()]
    corners = [2, 6, 7, 3]  # the top's outline, counter-clockwise from above
    fan = [[a, b, 8] for a, b in zip(corners, [*corners[1:], corners[0]], strict=True)]
    dented = np.concatenate([np.delete(triangles, top, axis=0), np.array(fan, np.int32)])
    for depth, wanted in ((0.25, 2 * 0.25 / (1 + 0.25**2) ** 0.5), (-0.25, 0.0)):
        one = body(part(np.concatenate([points, [[0.0, 1.0 - depth, 0.0]]]), dented))
        assert one.pieces.closed.all()
        assert one.pieces.dent[0] == pytest.approx(wanted, rel=1e-9)


def test_a_position_that_is_no_number_leaves_its_triangles_out() -> None:
    points, triangles = box()
    points = np.concatenate([points, [[np.nan, 0, 0]]])
    one = body(part(points, np.concatenate([triangles, [[0, 1, 8]]])))
    assert (one.triangles, one.open.total, one.pieces.closed.tolist()) == (12, 0, [True])


def test_two_triangles_back_to_back_enclose_nothing_and_have_no_inside() -> None:
    points = np.random.default_rng(9).random((3, 3))
    one = body(part(points, [[0, 1, 2], [0, 2, 1]]))
    assert (one.pieces.closed.tolist(), one.pieces.volume.tolist()) == ([True], [0.0])


def test_nothing_at_all() -> None:
    one = body(part(np.zeros((0, 3)), np.zeros((0, 3))))
    assert (one.open.total, one.flat.total, len(one.pieces), one.slivers(0.1).total) == (0, 0, 0, 0)


def test_several_props_files_and_roles_are_bodies_of_their_own() -> None:
    files = (mesh_file(box_part()), mesh_file(box_part(), path="furniture_crate_lod1.glb", role="lod1"))
    found = facts_of(prop(*files), "topology").topology
    assert [(one.file, one.role) for one in found] == [
        ("furniture_crate.glb", "model"),
        ("furniture_crate_lod1.glb", "lod1"),
    ]


@settings(max_examples=40, deadline=None)
@given(st.integers(0, 2**32 - 1), st.integers(1, 60))
def test_renumbering_and_splitting_vertices_changes_nothing(seed: int, triangles: int) -> None:
    sheet = random_sheet(np.random.default_rng(seed), triangles)
    other, _ = renumbered(split_apart(sheet, np.arange(0, triangles, 2)), seed)
    assert summary(body(part(sheet.positions, sheet.triangles))) == summary(
        body(part(other.positions, other.triangles))
    )


@settings(max_examples=30, deadline=None)
@given(st.integers(0, 2**32 - 1), st.integers(2, 80))
def test_counts_agree_with_libigl_and_trimesh(seed: int, triangles: int) -> None:
    rng = np.random.default_rng(seed)
    sheet = random_sheet(rng, triangles)
    points, inverse = np.unique(sheet.positions, axis=0, return_inverse=True)
    faces = inverse.reshape(-1)[sheet.triangles]
    faces = faces[(faces[:, 0] != faces[:, 1]) & (faces[:, 1] != faces[:, 2]) & (faces[:, 2] != faces[:, 0])]
    if not len(faces):
        return
    one = body(part(points, faces))
    # trimesh: how often each unique undirected edge occurs
    mesh = trimesh.Trimesh(points, faces, process=False, validate=False)
    counts = np.bincount(mesh.edges_unique_inverse)
    assert (one.open.total, one.crowded.total) == (int((counts == 1).sum()), int((counts > 2).sum()))
    # libigl: pieces joined through vertices, over the vertices that are used
    label = np.asarray(igl.vertex_components(faces.astype(np.int64)))
    assert len(one.pieces) == len(np.unique(label[np.unique(faces)]))
    # trimesh: area zero or not is decided by the same triangles here, whose coordinates are tenths
    repeats = len(faces) - len(np.unique(np.sort(faces, axis=1), axis=0))
    told = one.doubled.total + one.back_to_back.total
    # Two flat pairs of triangles on one four corners, cut along both diagonals, are told too though no triangle repeats.
    assert told == repeats or (told > repeats and _cut_both_ways(points, faces))


def _cut_both_ways(points: NDArray[np.float64], faces: NDArray[np.int64]) -> bool:
    """Whether four corners carry two nearly flat pairs of triangles, one along each diagonal. Tried pair by pair."""
    a, b, c = (points[faces[:, corner]] for corner in range(3))
    normal = np.cross(b - a, c - a)
    diagonals: dict[frozenset[int], set[frozenset[int]]] = {}
    for i, j in combinations(range(len(faces)), 2):
        one, other = set(faces[i].tolist()), set(faces[j].tolist())
        lengths = np.linalg.norm(normal[i]) * np.linalg.norm(normal[j])
        if len(one & other) == 2 and normal[i] @ normal[j] >= FLAT * lengths:
            diagonals.setdefault(frozenset(one | other), set()).add(frozenset(one & other))
    return any(not (x & y) for found in diagonals.values() for x, y in combinations(found, 2))


def test_a_random_sheet_with_a_quad_cut_both_ways() -> None:
    # Two triangles along the diagonal 0-3 and, seen from the other side, two along 1-2; a fifth hangs on one of their edges.
    points = np.array([[6, 1, 10], [8, 2, 2], [9, 7, 10], [10, 7, 4], [2, 2, 2]]) / 10
    faces = np.array([[0, 1, 3], [2, 0, 3], [0, 2, 1], [2, 3, 1], [0, 1, 4]])
    assert _cut_both_ways(points, faces) and not _cut_both_ways(points, faces[:3])
    one = body(part(points, faces))
    assert (one.doubled.total, one.back_to_back.total) == (0, 2)


def test_volumes_agree_with_trimesh() -> None:
    for mesh in (
        trimesh.creation.icosphere(2, 0.7),
        trimesh.creation.torus(0.5, 0.2),
        trimesh.creation.capsule(1, 0.3),
    ):
        one = body(part(np.asarray(mesh.vertices) + 5.0, np.asarray(mesh.faces)))
        assert one.pieces.volume.tolist() == pytest.approx([mesh.volume], rel=1e-8)
        inward = body(part(mesh.vertices, np.asarray(mesh.faces)[:, ::-1]))
        assert inward.pieces.volume.tolist() == pytest.approx([-mesh.volume], rel=1e-8)
        assert mesh.is_convex == (one.pieces.dent[0] <= 1e-9)


def test_polygons_bend_along_their_own_diagonals_only() -> None:
    sheet = grid(2, 1)
    points = sheet.positions.copy()
    # Two quads meeting at x = 1; lifting a corner at x = 0 bends the first quad, lifting both ends of a side folds between
    # the quads and bends neither. Lift 0.1 of a unit square: the fold along its diagonal is 2 atan(0.1 / sqrt(1/2) / 2)...
    # measured against the normals instead: n1 = (0, 0, 1), n2 of the lifted triangle.
    polygon = np.array([0, 0, 1, 1], np.int32)
    corners = np.array([4, 4], np.int32)
    folded = points.copy()
    folded[[0, 3], 2] = 0.5
    assert body(part(folded, sheet.triangles, polygon=polygon, polygon_corners=corners)).bent(1.0).total == 0
    lifted = points.copy()
    lifted[3, 2] = 0.1  # corner (0, 1), on the second triangle of the first quad
    n = np.cross(lifted[4] - lifted[0], lifted[3] - lifted[0])
    degrees = float(np.degrees(np.arccos(n[2] / np.linalg.norm(n))))
    one = body(part(lifted, sheet.triangles, polygon=polygon, polygon_corners=corners))
    assert one.bent(degrees - 0.01).total == 1
    assert one.bent(degrees + 0.01).total == 0
    assert body(part(lifted, sheet.triangles)).bent(1.0).total == 0  # triangles alone have no polygons


def hexagons(*rings: list[int]) -> dict[str, np.ndarray]:
    """Fans of six corners each."""
    triangles = [[ring[0], ring[i], ring[i + 1]] for ring in rings for i in range(1, 5)]
    return {
        "triangles": np.array(triangles, np.int32),
        "polygon": np.repeat(np.arange(len(rings), dtype=np.int32), 4),
        "polygon_corners": np.full(len(rings), 6, np.int32),
    }


def test_a_bent_polygon_bends_whatever_lies_on_its_diagonal() -> None:
    # An oblong of six corners, its middle line lifted by 1 over a half width of 1: both halves stand at 45 degrees, which
    # makes 90 between them. A fin on the line 0-2 lies on a diagonal of the fan from corner 0.
    points = np.array([[0, 0, 0], [1, 0, 1], [2, 0, 0], [2, 1, 0], [1, 1, 1], [0, 1, 0], [1, -1, 0]], float)
    made = hexagons([0, 1, 2, 3, 4, 5])
    made["triangles"] = np.append(made["triangles"], [[0, 2, 6]], axis=0).astype(np.int32)
    made["polygon"] = np.append(made["polygon"], 1).astype(np.int32)
    made["polygon_corners"] = np.array([6, 3], np.int32)
    one = body(part(points, **made))
    assert one.bent(30.0).total == 1
    # Six open edges around the oblong and three around the fin, which touches two corners only.
    assert (one.open.total, one.crowded.total, one.turned.total) == (9, 0, 0)


def test_doubled_polygons_are_found_by_their_triangles() -> None:
    # A hexagon in the plane twice: four triangles are copies. Turned over, they are backs, if cut the same way.
    points = np.array([[np.cos(a), np.sin(a), 0.0] for a in np.arange(6) * np.pi / 3])
    once = body(part(points, **hexagons([0, 1, 2, 3, 4, 5])))
    assert (once.doubled.total, once.back_to_back.total, once.open.total) == (0, 0, 6)
    twice = body(part(points, **hexagons([0, 1, 2, 3, 4, 5], [0, 1, 2, 3, 4, 5])))
    assert (twice.doubled.total, twice.back_to_back.total) == (4, 0)
    turned = body(part(points, **hexagons([0, 1, 2, 3, 4, 5], [0, 5, 4, 3, 2, 1])))
    assert (turned.doubled.total, turned.back_to_back.total) == (0, 4)


def test_polygons_of_several_parts_and_lost_corners_stay_apart() -> None:
    # Two parts number their polygons from 0 each, and the quad of the second has a corner that is no number.
    square = np.array([[0, 0, 0], [1, 0, 0], [1, 1, 0], [0, 1, 0]], float)
    beside = square + np.array([1.0, 0.0, 0.0])
    lost = np.where(np.arange(4)[:, None] == 1, np.nan, beside)
    quad = np.array([[0, 1, 2], [0, 2, 3]], np.int32)
    iron, oak = material("iron"), material("oak")
    for second, opened in ((beside, 6), (lost, 5)):  # of the second quad a triangle is left: 3 + 2 open
        parts = [
            part(points, quad, material=i, polygon=np.zeros(2, np.int32), polygon_corners=np.array([4], np.int32))
            for i, points in enumerate((square, second))
        ]
        (one,) = facts_of(mesh_file(*parts, nodes=(), materials=(iron, oak)), "topology").topology
        assert (one.open.total, one.crowded.total) == (opened, 0)


def test_nameless_meshes_of_a_file_are_told_apart_by_their_nodes(tmp_path: Path) -> None:
    points, triangles = box()
    build = GltfBuilder()
    build.mesh("", points, triangles)
    build.mesh("", points + np.array([1.0, 0.0, 0.0]), triangles)  # side by side: they touch in four corners
    write_glb(tmp_path / "crate.glb", build)
    mesh = read_gltf(DropFolder(tmp_path), "crate.glb")
    assert [one.node_number for one in mesh.parts] == [0, 1]
    assert mesh.mesh_names == ("", "")
    found = facts_of(mesh, "topology").topology
    assert [(one.crowded.total, one.pieces.closed.tolist()) for one in found] == [(0, [True]), (0, [True])]


def test_the_triangles_of_a_fault_are_named_by_part() -> None:
    square = np.array([[0, 0, 0], [1, 0, 0], [1, 1, 0], [0, 1, 0]], float)
    lost = np.concatenate([square, [[np.nan, 0, 0]]])
    iron, oak = material("iron"), material("oak")
    # The first part has a triangle that is left out, before the two that the second part repeats, one of them turned over.
    parts = [
        part(lost, [[0, 1, 4], [0, 1, 2], [0, 2, 3]], material=0),
        part(square, [[0, 1, 2], [3, 2, 0]], material=1),
    ]
    (one,) = facts_of(mesh_file(*parts, nodes=(), materials=(iron, oak)), "topology").topology
    assert one.faces_of("doubled") == ((0, 1, 2), (1, 0, 1))
    assert one.faces_of("back_to_back") == ((0, 2, 3), (1, 1, 2))
    assert one.faces_of("inwards") == ()
    inward = body(box_part(2.0, triangles=box()[1][:, ::-1]))  # from corner to corner 2 sqrt(3) = 3.4641
    assert inward.faces_of("inwards", 3.46) == ((0, 0, 12),)
    assert inward.faces_of("inwards", 3.47) == ()


def test_of_two_regions_the_smaller_one_is_turned() -> None:
    sheet = grid(3, 1)  # three squares in a row; the third is turned, then the first two are
    for rows in ([4, 5], [0, 1, 2, 3]):
        triangles = sheet.triangles.copy()
        triangles[rows] = triangles[rows][:, ::-1]
        assert body(part(sheet.positions, triangles)).faces_of("turned") == ((0, 4, 6),)


def test_a_leaf_in_single_precision_holds_nothing_and_a_thin_plate_does() -> None:
    # A square and its back cut along the other diagonal, turned anyhow: its corners stray by about 2^-23 of their distance.
    rng = np.random.default_rng(1)
    square = np.array([[0.0, 0.0, 0.0], [1.0, 0.0, 0.0], [1.0, 1.0, 0.0], [0.0, 1.0, 0.0]])
    for _ in range(50):
        turn = np.linalg.qr(rng.normal(size=(3, 3)))[0]
        points = (square @ turn.T + rng.normal(size=3)).astype(np.float32).astype(np.float64)
        leaf = body(part(points, [[0, 1, 2], [0, 2, 3], [1, 0, 3], [3, 2, 1]]))
        assert leaf.pieces.volume.tolist() == [0.0] and not leaf.pieces.inwards(0.0).any()
        assert leaf.back_to_back.total == 2
    # A plate inside out whose corners lie 2 m from the origin along X. Its surface of two square metres may stray by
    # 2 x 2 x 2^-23 = 4.8e-7 cubic metres: a plate half a micrometre thick is more, one of 0.4 is not.
    points, faces = box()
    for thickness, told in ((0.5e-6, True), (0.4e-6, False)):
        plate = body(part((points + 0.5) * (1.0, 1.0, thickness) + (1.0, 0.0, 0.0), faces[:, ::-1]))
        assert plate.pieces.closed.all() and bool(plate.pieces.inwards(0.0).any()) is told
