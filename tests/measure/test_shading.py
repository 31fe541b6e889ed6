"""Normals and tangents of parts: known answers, and both sides of what a caller asks for."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.support.mesh_props import box_part, facts_of, material, mesh_file, part, prop, sheet_part
from tidegate.geometry.corners import corner_columns
from tidegate.geometry.normals import normal_to_face
from tidegate.measure.shading import Shading
from tidegate.model.mesh import MapSlot, MeshPart
from tidegate.model.prop import Binding

UP = [0.0, 0.0, 1.0]


def shading(one: MeshPart) -> Shading:
    (found,) = facts_of(one, "shading").shading
    return found


def test_a_mesh_without_normals_and_one_with_some() -> None:
    assert not shading(box_part()).normals
    sheet = sheet_part(1, 1)
    half = replace(sheet, normals=np.array([UP]), normal_triangles=np.array([[0, 0, 0], [-1, -1, -1]], np.int32))
    one = shading(half)
    # The second triangle is (0, 0), (1, 1), (0, 1); its centre is at a third and two thirds.
    assert (one.normals, one.bare) == (True, (1, (0.333333, 0.666667, 0.0)))
    assert one.leaning(1.0).total == 0  # what has no normal leans nowhere


def test_lengths_of_normals_that_triangles_use() -> None:
    sheet = sheet_part(1, 1)
    normals = np.tile(UP, (4, 1)) * np.array([[1.0], [1.02], [0.0], [np.nan]])
    one = shading(replace(sheet, normals=normals, normal_triangles=sheet.triangles))
    assert one.zero.total == 2
    assert one.off_length(0.0199).total == 1 and one.off_length(0.0201).total == 0
    assert one.off_length(0.0199).point == (1.0, 0.0, 0.0)
    assert one.farthest_length() == pytest.approx(1.02)
    # A normal that no triangle uses says nothing.
    unused = np.concatenate([np.tile(UP, (4, 1)), [[0.0, 0.0, 5.0], [0.0, 0.0, 0.0]]])
    one = shading(replace(sheet, normals=unused, normal_triangles=sheet.triangles))
    assert (one.zero.total, one.off_length(0.01).total) == (0, 0)


@pytest.mark.parametrize("degrees", [30.0, 90.0, 120.0])
def test_both_sides_of_a_lean(degrees: float) -> None:
    tilt = np.radians(degrees)
    normals = np.array([UP, UP, [0.0, np.sin(tilt), np.cos(tilt)], UP])
    one = shading(part([[0, 0, 0], [1, 0, 0], [1, 1, 0], [0, 1, 0]], [[0, 1, 2], [0, 1, 3]], normals=normals))
    assert one.leaning(degrees - 0.001).total == 1
    assert one.leaning(degrees + 0.001).total == 0


@settings(max_examples=30, deadline=None)
@given(st.integers(0, 2**32 - 1), st.floats(1.0, 179.0))
def test_leaning_agrees_with_every_angle_measured(seed: int, degrees: float) -> None:
    rng = np.random.default_rng(seed)
    points, triangles = rng.random((12, 3)), rng.integers(0, 12, (30, 3)).astype(np.int32)
    normals = rng.normal(size=(12, 3))
    normals[0] = 0.0
    angles = normal_to_face(corner_columns(points, triangles), normals, triangles)
    assert shading(part(points, triangles, normals=normals)).leaning(degrees).total == int((angles > degrees).sum())


def with_tangents(w: object, mirrored: bool = False) -> MeshPart:
    sheet = sheet_part(1, 1, normals=np.tile(UP, (4, 1)))
    tangents = np.concatenate([np.tile([1.0, 0.0, 0.0], (4, 1)), np.broadcast_to(w, 4).reshape(4, 1)], axis=1)
    layer = sheet.uv_layers[0]
    uv = layer.uv * [-1.0, 1.0] + [1.0, 0.0] if mirrored else layer.uv
    return replace(sheet, tangents=tangents, uv_layers=(replace(layer, uv=uv),))


def test_the_sign_of_a_tangent_is_that_of_the_layout() -> None:
    # glTF 2.0, 3.7.2.1: bitangent = cross(normal, tangent) * w; for UVs as they are, U along x and V along y, it is +y.
    assert shading(with_tangents(1.0)).wrong_handed.total == 0
    assert shading(with_tangents(-1.0)).wrong_handed.total == 2
    assert shading(with_tangents(-1.0, mirrored=True)).wrong_handed.total == 0
    assert shading(with_tangents(1.0, mirrored=True)).wrong_handed.total == 2
    # Vertex 2 is in the second triangle alone, whose corners then disagree: it is left out, the first one is right.
    assert shading(with_tangents([1.0, 1.0, -1.0, 1.0])).wrong_handed.total == 0
    assert shading(with_tangents([-1.0, -1.0, 1.0, -1.0])).wrong_handed.total == 1


def test_tangents_that_are_none() -> None:
    assert shading(with_tangents([1.0, 0.5, 1.0, -1.0])).tangents_off == (1, (1.0, 0.0, 0.0))
    one = with_tangents(1.0)
    assert one.tangents is not None
    bad = one.tangents.copy()
    bad[0, :3], bad[1, :3] = 0.0, [1.2, 0.0, 0.0]
    assert shading(replace(one, tangents=bad)).tangents_off.total == 2


def test_the_layer_of_the_normal_map() -> None:
    iron = material("iron", MapSlot("normal", "rgb", "normalTexture", -1, uv_layer=1))
    (stated,) = facts_of(mesh_file(box_part(material=0), materials=(iron,)), "shading").shading
    assert stated.normal_layer == 1
    plain = mesh_file(box_part(material=0), materials=(material("iron"),))
    bound = Binding(plain.path, "iron", "normal", "crate_normal.png", "name")
    (named,) = facts_of(prop(plain, bindings=(bound,)), "shading").shading
    assert named.normal_layer == 0
    (without,) = facts_of(plain, "shading").shading
    assert without.normal_layer is None
