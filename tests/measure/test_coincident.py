"""Objects that were copied and left in place: triangles of one body on those of another."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from tests.support.mesh_props import box_part, facts_of, findings, mesh_file, part, prop
from tidegate.model.mesh import Node

CHECK = "doubled-triangles"


def test_a_copy_left_in_place_is_told_of_the_later_mesh() -> None:
    twice = mesh_file(box_part(mesh="crate", node="crate"), box_part(mesh="crate_copy", node="crate_copy"))
    (one,) = findings(CHECK, twice)
    assert (one.measured, one.place.mesh) == (12, "crate_copy")
    assert one.message.endswith("; mesh `crate_copy` lies on mesh `crate`")
    # Both are hatched, and both explain what follows: all 12 triangles of each.
    assert one.shown.faces == ((0, 0, 12), (1, 0, 12))


def test_three_in_one_place_are_two_copies() -> None:
    three = mesh_file(*(box_part(mesh=name, node=name) for name in "abc"))
    (one,) = findings(CHECK, three)
    assert one.measured == 24
    assert one.message.endswith("; mesh `b` lies on mesh `a`, and 1 more such")


def test_one_mesh_placed_twice_at_one_place() -> None:
    nodes = (Node("left", -1, "crate", holds="mesh"), Node("right", -1, "crate", holds="mesh"))
    parts = [replace(box_part(mesh="crate"), node=name, node_number=at) for at, name in enumerate(("left", "right"))]
    (one,) = findings(CHECK, mesh_file(*parts, nodes=nodes))
    assert one.message.endswith("; node `right` places it where node `left` does")


@pytest.mark.parametrize(("moved", "told"), [(0.0, 12), (1e-7, 12), (2e-5, 0)])
def test_both_sides_of_lying_on_each_other(moved: float, told: int) -> None:
    # Its corners lie 0.25 m from the middle, 24,382.75 cells of a 97,531st of a metre: a hundredth of a cell on, or two cells.
    pair = mesh_file(box_part(0.5, mesh="a", node="a"), box_part(0.5, mesh="b", node="b", at=(moved, 0.0, 0.0)))
    assert sum(body.doubled.total for body in facts_of(pair, "topology").topology) == told


def test_a_piece_of_a_larger_mesh() -> None:
    # A lid of two triangles was copied out of a box and not deleted there; the copy starts from another corner.
    box = box_part(mesh="box", node="box")
    lid = part(box.positions, np.roll(box.triangles[2:4], 1, axis=1), mesh="lid", node="lid")
    (one,) = findings(CHECK, mesh_file(box, lid))
    assert (one.measured, one.place.mesh) == (2, "lid")


def test_no_copies_are_levels_of_detail_other_files_and_backs() -> None:
    one, other = box_part(mesh="a", node="a"), box_part(mesh="b", node="b")
    assert findings(CHECK, mesh_file(one, replace(other, role="lod1"))) == []
    assert findings(CHECK, prop(mesh_file(one), mesh_file(other, path="furniture_crate_lid.glb"))) == []
    assert findings(CHECK, mesh_file(one, replace(other, triangles=other.triangles[:, ::-1].copy()))) == []


def test_points_without_surface_are_no_copies() -> None:
    dots = [part(np.zeros((3, 3)), [[0, 1, 2]], mesh=name, node=name) for name in "ab"]
    assert findings(CHECK, mesh_file(*dots)) == []
