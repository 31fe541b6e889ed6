"""Checks of collision meshes."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from tests.geometry.shapes import box
from tests.support.mesh_props import box_part, findings, material, mesh_file, messages, part, prop, sheet_part
from tidegate.model.mesh import MapSlot, MeshPart
from tidegate.model.order_row import OrderRow
from tidegate.model.prop import Prop

CHECKS = ("collision-open", "collision-dented", "collision-too-heavy", "collision-painted")


def hull(one: MeshPart, model: MeshPart | None = None, **more: object) -> Prop:
    return prop(
        mesh_file(model or box_part(), path="crate.glb"),
        mesh_file(one, path="crate_collision.glb", role="collision", **more),
    )


@pytest.mark.parametrize("check", CHECKS)
def test_a_closed_box_passes_and_a_model_is_not_looked_at(check: str) -> None:
    assert findings(check, hull(box_part())) == []
    assert findings(check, sheet_part(40, 40)) == []


def test_a_hull_that_is_open_or_inside_out() -> None:
    points, triangles = box()
    (one,) = findings("collision-open", hull(part(points, triangles[2:])))
    assert one.message == "collision mesh `hull`: 1 part of 1 not closed (4 open edges)"
    assert one.place.point == (-0.5, 0.0, -0.5)
    assert "inside out" in messages("collision-open", hull(part(points, triangles[:, ::-1])))[0]
    turned = triangles.copy()
    turned[0] = turned[0][::-1]
    assert "(3 turned edges)" in messages("collision-open", hull(part(points, turned)))[0]


def dented(depth: float) -> MeshPart:
    """A box of 2 m with the middle of its top pushed in by `depth`; see the tests of topology for how deep that counts."""
    points, triangles = box(2.0)
    top = [row for row in range(12) if (points[triangles[row]][:, 1] == 1.0).all()]
    fan = [[a, b, 8] for a, b in ((2, 6), (6, 7), (7, 3), (3, 2))]
    return part(
        np.concatenate([points, [[0.0, 1.0 - depth, 0.0]]]), np.concatenate([np.delete(triangles, top, axis=0), fan])
    )


def test_both_sides_of_a_dent() -> None:
    depth = 2 * 0.1 / (1 + 0.1**2) ** 0.5
    share = depth / (2 * 3**0.5)
    (one,) = findings("collision-dented", hull(dented(0.1)), share=share - 1e-6)
    assert one.measured == pytest.approx(depth, rel=1e-5)
    assert findings("collision-dented", hull(dented(0.1)), share=share + 1e-6) == []
    assert findings("collision-dented", hull(dented(-0.1)), share=0) == []  # a roof bulges


def test_a_rounded_hull_in_single_precision_is_convex() -> None:
    import trimesh

    ball = trimesh.creation.icosphere(3, 0.7)
    points = np.asarray(ball.vertices, np.float32).astype(float) + 20.0
    assert findings("collision-dented", hull(part(points.astype(np.float32), ball.faces))) == []


def test_triangles_in_all_and_beside_the_model() -> None:
    sheet = sheet_part(10, 5)  # 100 triangles
    assert len(findings("collision-too-heavy", hull(sheet, sheet_part(20, 20)), most=99)) == 1
    assert findings("collision-too-heavy", hull(sheet, sheet_part(20, 20)), most=100) == []
    # half of a model of 200, or of one of 198
    assert findings("collision-too-heavy", hull(sheet, sheet_part(20, 5))) == []
    assert "the model has 198" in messages("collision-too-heavy", hull(sheet, sheet_part(11, 9)))[0]
    # a small one passes beside any model
    assert findings("collision-too-heavy", hull(sheet, box_part()), always=100) == []
    assert len(findings("collision-too-heavy", hull(sheet, box_part()), always=99)) == 1


def test_an_ordered_budget_stands_before_the_limit() -> None:
    order = OrderRow("crate", triangles=(("collision", 100),))
    drop = hull(sheet_part(10, 5), sheet_part(20, 20))
    assert findings("collision-too-heavy", drop, most=50, order=order) == []  # the budget check tells of it
    assert len(findings("collision-too-heavy", drop, most=50, order=OrderRow("crate"))) == 1


def test_paint_on_what_is_never_seen() -> None:
    slot = MapSlot("base_color", "rgb", "pbrMetallicRoughness.baseColorTexture", -1)
    worn = replace(sheet_part(1, 1), material=0)
    textured = hull(worn, materials=(material("oak", slot),))
    assert messages("collision-painted", textured) == ["collision mesh `hull` wears the textured material `oak`"]
    plain = hull(worn, materials=(material("wood_sound"),))
    assert findings("collision-painted", plain) == []
    assert len(findings("collision-painted", plain, uvs_allowed=False)) == 1
