"""Checks of how a mesh hangs together: each fault, both sides of its limit, and what is let be on purpose."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from tests.geometry.shapes import box, grid
from tests.support.mesh_props import box_part, findings, material, mesh_file, messages, part, prop, sheet_part
from tidegate.model.check import Scope
from tidegate.model.mesh import MeshPart

SQUARE = [[0, 0, 0], [1, 0, 0], [1, 1, 0], [0, 1, 0]]
TWO = [[0, 1, 2], [0, 2, 3]]
TURNED = [[0, 1, 2], [3, 2, 0]]

FAULTY: dict[str, tuple[MeshPart, int]] = {
    # check -> a mesh with the fault, and how many faults it has
    "open-borders": (part(SQUARE, TWO), 4),
    "crowded-edges": (part([*SQUARE, [0, 0, 1]], [*TWO, [0, 2, 4]]), 1),
    "pinched-vertices": (part([[0, 0, 0], [1, 0, 0], [0, 1, 0], [-1, 0, 0], [0, -1, 0]], [[0, 1, 2], [0, 3, 4]]), 1),
    "turned-faces": (part(SQUARE, TURNED), 1),
    "doubled-triangles": (part(SQUARE, [*TWO, TWO[0]]), 1),
    "back-to-back-triangles": (part(SQUARE, [*TWO, [2, 1, 0], [3, 2, 0]]), 2),
    "triangles-without-area": (part([*SQUARE, [2, 0, 0]], [*TWO, [0, 1, 4]]), 1),
}
faulty = pytest.mark.parametrize("check", FAULTY)


@faulty
def test_the_fault_is_told_once_with_its_mesh_and_a_point(check: str) -> None:
    mesh, total = FAULTY[check]
    (one,) = findings(check, mesh)
    assert (one.measured, one.wanted) == (total, 0)
    assert "mesh `hull`" in one.message and f"{total} " in one.message
    assert (one.place.file, one.place.mesh, one.place.role) == ("furniture_crate.glb", "hull", "model")
    assert one.place.point is not None and all(0 - 1 <= value <= 2 for value in one.place.point)


@faulty
def test_both_sides_of_what_is_allowed(check: str) -> None:
    mesh, total = FAULTY[check]
    assert findings(check, mesh, allowed=total) == []
    assert len(findings(check, mesh, allowed=total - 1)) == 1


@faulty
def test_a_sound_cube_passes_and_so_does_a_part_the_rule_is_not_for(check: str) -> None:
    assert findings(check, box_part()) == []
    assert findings(check, FAULTY[check][0], scope=Scope(mesh=("lid*",))) == []


@faulty
def test_meshes_are_drawn_together_and_collision_is_left_out_unless_named(check: str) -> None:
    mesh, total = FAULTY[check]
    away = replace(mesh, node="lid", mesh="lid", positions=mesh.positions + 10.0)
    both = mesh_file(mesh, away, box_part(mesh="rope"))
    (one,) = findings(check, both)
    assert one.measured == 2 * total and "2 meshes, most of them in mesh `hull`" in one.message
    hidden = mesh_file(replace(mesh, role="collision"))
    assert findings(check, hidden) == []
    assert len(findings(check, hidden, scope=Scope(role=("collision",)))) == 1


@faulty
def test_splitting_every_vertex_changes_nothing(check: str) -> None:
    mesh, _ = FAULTY[check]
    split = part(mesh.positions[mesh.triangles].reshape(-1, 3), np.arange(3 * len(mesh.triangles)))
    assert findings(check, split) == findings(check, mesh)


def test_slivers_by_height_and_by_share() -> None:
    # one triangle of height 0.02 over a side of 1, beside a sound square: a third of the triangles
    mesh = part([*SQUARE, [0, 2, 0], [1, 2, 0], [0.5, 2.02, 0]], [*TWO, [4, 5, 6]])
    assert findings("sliver-triangles", mesh, thinner_than=0.0199) == []
    (one,) = findings("sliver-triangles", mesh, thinner_than=0.0201, share=0.3333)
    assert one.measured == pytest.approx(1 / 3, rel=1e-5)
    assert findings("sliver-triangles", mesh, thinner_than=0.0201, share=0.3334) == []


def bent(lift: float, **more: Any) -> MeshPart:
    points = np.array(SQUARE, float)
    points[3, 2] = lift
    return part(points, TWO, polygon=np.zeros(2, np.int32), polygon_corners=np.array([4], np.int32), **more)


def test_polygons_that_bend() -> None:
    # Lifted by 0.2 the second triangle's normal is (-0.2 .. ) worked out here: tan = 0.2 * sqrt(2), 15.79 degrees
    degrees = float(np.degrees(np.arctan(0.2 * 2**0.5)))
    assert len(findings("bent-polygons", bent(0.2), largest_degrees=degrees - 0.01)) == 1
    assert findings("bent-polygons", bent(0.2), largest_degrees=degrees + 0.01) == []
    assert findings("bent-polygons", bent(0.0)) == []


def test_polygons_with_many_corners() -> None:
    ring = [[np.cos(a), np.sin(a), 0] for a in np.arange(5) * 2 * np.pi / 5]
    five = part(ring, [[0, 1, 2], [0, 2, 3], [0, 3, 4]], polygon=np.zeros(3, np.int32), polygon_corners=np.array([5]))
    (one,) = findings("many-cornered-polygons", five)
    assert "1 polygon with more than 4 corners" in one.message
    assert one.place.point == (round(float(np.cos(4 * np.pi / 5)), 6), round(float(-np.sin(4 * np.pi / 5)), 6), 0.0)
    assert findings("many-cornered-polygons", five, corners=5) == []
    assert findings("many-cornered-polygons", box_part()) == []  # triangles are all there is


def test_a_part_turned_inside_out() -> None:
    points, triangles = box()
    inward = part(points, triangles[:, ::-1])
    (one,) = findings("inside-out-surface", inward)
    assert "inside out" in one.message and one.place.point == (0.0, 0.0, 0.0)
    assert findings("inside-out-surface", box_part()) == []
    assert findings("inside-out-surface", part(points, triangles[2:, ::-1])) == []  # open: it has no inside
    across = 3**0.5
    assert findings("inside-out-surface", inward, smallest_m=across + 1e-6) == []
    assert len(findings("inside-out-surface", inward, smallest_m=across - 1e-6)) == 1


def test_a_room_with_a_double_sided_material_is_meant() -> None:
    points, triangles = box()
    room = mesh_file(part(points, triangles[:, ::-1], material=0), materials=(material("plaster", double_sided=True),))
    assert findings("inside-out-surface", room) == []


def test_one_part_of_two_inside_out() -> None:
    points, triangles = box()
    two = part(
        np.concatenate([points, points + np.array([3.0, 0.0, 0.0])]),
        np.concatenate([triangles, triangles[:, ::-1] + 8]),
    )
    (one,) = findings("inside-out-surface", two)
    assert "1 closed part of 2" in one.message and one.place.point == (3.0, 0.0, 0.0)


def scrap(size: float, triangles: int = 1) -> MeshPart:
    """A cube of two metres and a scrap of so many triangles in a strip, `size` metres from corner to corner."""
    points, faces = box(2.0)
    strip = grid(triangles, 1)
    flat = strip.positions / np.linalg.norm([triangles, 1]) * size + [3.0, 0.0, 0.0]
    kept = strip.triangles[: 2 * triangles]
    return part(np.concatenate([points, flat]), np.concatenate([faces, kept + 8]))


def test_scraps_by_size_and_by_triangles() -> None:
    # The prop is 4 m and a little wide, x from -1 to 3 and the scrap's width.
    wide = scrap(0.02)
    (one,) = findings("loose-pieces", wide)
    assert "1 scrap of at most 2 triangles" in one.message
    longest = 4.0 + 0.02 / 2**0.5
    assert findings("loose-pieces", wide, share=0.0199 / longest) == []
    assert len(findings("loose-pieces", wide, share=0.0201 / longest)) == 1
    assert findings("loose-pieces", scrap(0.02, triangles=2), triangles=3) == []
    assert len(findings("loose-pieces", scrap(0.02, triangles=2), triangles=4)) == 1
    assert findings("loose-pieces", sheet_part(1, 1)) == []  # the whole mesh is no scrap


def test_more_pieces_than_wanted() -> None:
    assert findings("loose-pieces", scrap(1.0), most=2) == []
    assert "falls into 2 pieces, allowed are 1" in messages("loose-pieces", scrap(1.0), most=1)[0]


def test_two_files_of_one_role_are_told_apart() -> None:
    found = findings(
        "open-borders", prop(mesh_file(FAULTY["open-borders"][0]), mesh_file(sheet_part(1, 1), path="b.glb"))
    )
    assert [one.place.file for one in found] == ["b.glb", "furniture_crate.glb"]
