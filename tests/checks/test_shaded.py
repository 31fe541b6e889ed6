"""Checks of normals and tangents."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from tests.support.mesh_props import box_part, findings, material, mesh_file, messages, part, sheet_part
from tidegate.model.mesh import MapSlot, MeshFile, MeshPart

UP = [0.0, 0.0, 1.0]
NORMAL = MapSlot("normal", "rgb", "normalTexture", -1)


def lit(*normals: list[float]) -> MeshPart:
    """A square of two triangles with these normals, the last of them for the rest."""
    rows = [*normals, *[normals[-1]] * (4 - len(normals))]
    return sheet_part(1, 1, normals=rows)


def test_normals_that_are_missing() -> None:
    assert findings("normals-missing", lit(UP)) == []
    (one,) = findings("normals-missing", box_part())
    assert (one.message, one.measured) == ("mesh `hull` has no vertex normals", 12)
    half = replace(
        sheet_part(1, 1), normals=np.array([UP]), normal_triangles=np.array([[0, 0, 0], [-1, -1, -1]], np.int32)
    )
    assert messages("normals-missing", half) == ["1 triangle of 2 in mesh `hull` without vertex normals"]
    assert findings("normals-missing", box_part(role="collision")) == []


@pytest.mark.parametrize(("length", "told"), [(1.0101, 1), (1.0099, 0), (0.9899, 1), (0.9901, 0)])
def test_both_sides_of_a_length(length: float, told: int) -> None:
    assert len(findings("normals-off-length", lit([0.0, 0.0, length], UP), tolerance=0.01)) == told


def test_formats_that_state_no_length_are_only_noted() -> None:
    long = lit([0.0, 0.0, 6.28], UP)
    (gltf,) = findings("normals-off-length", mesh_file(long))
    (obj,) = findings("normals-off-length", mesh_file(long, path="furniture_crate.obj"))
    assert (gltf.level, obj.level) == ("", "note")
    assert gltf.message.endswith("by more than 0.01, the farthest 6.28 long")


def test_normals_stored_in_signed_bytes_pass() -> None:
    # glTF's quantised normals: each component rounded to 1/127. The farthest length is off by less than sqrt(3)/254.
    rng = np.random.default_rng(5)
    true = rng.normal(size=(3000, 3))
    bytes_ = np.round(true / np.linalg.norm(true, axis=1)[:, None] * 127) / 127
    triangles = np.arange(3000).reshape(-1, 3)
    assert findings("normals-off-length", part(true, triangles, normals=bytes_)) == []
    assert len(findings("normals-off-length", part(true, triangles, normals=bytes_), tolerance=0.003)) == 1


def test_normals_without_direction_are_told_whatever_is_tolerated() -> None:
    assert "1 normal without a direction" in messages("normals-off-length", lit([0.0, 0.0, 0.0], UP), tolerance=5)[0]


def leaning(degrees: float) -> MeshPart:
    a = np.radians(degrees)
    # vertex 2 belongs to the second triangle alone
    return lit(UP, UP, [np.sin(a), 0.0, np.cos(a)], UP)


def test_normals_that_point_behind_their_face() -> None:
    (one,) = findings("normals-facing-away", leaning(90.01))
    assert one.measured == 0.5
    assert findings("normals-facing-away", leaning(89.99)) == []
    assert findings("normals-facing-away", leaning(120), degrees=121) == []
    assert findings("normals-facing-away", leaning(120), share=0.5) == []
    assert len(findings("normals-facing-away", leaning(120), share=0.499)) == 1
    for mild, level in ((0.5, "note"), (0.499, "")):  # up to that share no more than a note
        (one,) = findings("normals-facing-away", leaning(120), mild_share=mild)
        assert one.level == level


def painted(one: MeshPart, *, path: str = "furniture_crate.glb", mapped: bool = True) -> MeshFile:
    return mesh_file(replace(one, material=0), path=path, materials=(material("iron", *((NORMAL,) if mapped else ())),))


def tangent(w: float = 1.0, length: float = 1.0) -> MeshPart:
    return replace(lit(UP), tangents=np.tile([length, 0.0, 0.0, w], (4, 1)))


def test_tangents_under_a_normal_map() -> None:
    assert len(findings("tangents-missing", painted(lit(UP)))) == 1
    assert findings("tangents-missing", painted(tangent())) == []
    assert findings("tangents-missing", painted(lit(UP), mapped=False)) == []
    # OBJ has no place for tangents, so none can be missing.
    assert findings("tangents-missing", painted(lit(UP), path="furniture_crate.obj")) == []


def test_the_sign_of_tangents_and_the_share_that_may_be_wrong() -> None:
    assert findings("tangents-wrong", painted(tangent())) == []
    (one,) = findings("tangents-wrong", painted(tangent(-1.0)))
    assert one.measured == 1.0 and "mirrored the other way" in one.message
    half = replace(tangent(), tangents=np.array([[1, 0, 0, -1], [1, 0, 0, -1], [1, 0, 0, 1], [1, 0, 0, -1]], float))
    assert len(findings("tangents-wrong", painted(half), share=0.499)) == 1  # one triangle of two; the other is mixed
    assert findings("tangents-wrong", painted(half), share=0.5) == []


@pytest.mark.parametrize(("w", "length"), [(0.5, 1.0), (1.0, 0.0), (1.0, 1.02), (0.0, 1.0)])
def test_tangents_that_are_no_unit_vectors(w: float, length: float) -> None:
    assert any("4 tangents" in message for message in messages("tangents-wrong", painted(tangent(w, length)), share=1))


def test_tangents_rounded_to_single_precision_pass() -> None:
    assert findings("tangents-wrong", painted(tangent(1.0, 1.000001))) == []


def test_one_small_mesh_with_turned_normals_is_told_by_itself() -> None:
    # 12 of 12 triangles of the knob, which are 12 of 140 of the file: its normals as a whole were turned.
    body = sheet_part(8, 8, normals=[UP] * 81)
    knob = box_part(0.1, mesh="knob", node="knob")
    inwards = replace(knob, normals=-knob.positions / np.linalg.norm(knob.positions, axis=1)[:, None])
    inwards = replace(inwards, normal_triangles=knob.triangles)
    (one,) = findings("normals-facing-away", mesh_file(body, inwards))
    assert (one.level, one.measured, one.place.mesh) == ("", 1.0, "knob")
    assert one.message.startswith("mesh `knob`: 12 triangles (100 %)")
    # One of two triangles of a scrap leans: half is not beyond half, and 1 of 142 is within the share of the file.
    scrap = replace(leaning(120), mesh="scrap", node="scrap")
    (same,) = findings("normals-facing-away", mesh_file(body, inwards, scrap))
    assert same.message == one.message
