"""glTF 2.0, 3.7.2.1: bitangent = cross(normal, tangent.xyz) * tangent.w with w +1 or -1."""

from __future__ import annotations

import numpy as np
import pytest

from tests.geometry.shapes import grid
from tidegate.geometry.areas import flat_in_tile, uv_areas
from tidegate.geometry.tangents import bad_signs, mixed_signs, not_unit_tangents, wrong_handed, zero_tangents


def tangents_from_uvs(mirrored: bool) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """A sheet and its tangents derived from what they mean: along growing U; w so that the bitangent follows growing V."""
    sheet = grid(3, 2)
    if mirrored:
        sheet = sheet._replace(uv=sheet.uv * np.array([-1.0, 1.0]))
    along_u = np.array([-1.0 if mirrored else 1.0, 0.0, 0.0])
    along_v = np.array([0.0, 1.0, 0.0])
    w = np.sign(np.dot(np.cross([0.0, 0.0, 1.0], along_u), along_v))
    tangents = np.tile(np.append(along_u, w), (len(sheet.positions), 1))
    uv = sheet.uv_columns()
    return tangents, sheet.triangles, uv


@pytest.mark.parametrize(("mirrored", "w"), [(False, 1.0), (True, -1.0)])
def test_w_follows_the_winding_of_the_uvs(mirrored: bool, w: float) -> None:
    tangents, triangles, uv = tangents_from_uvs(mirrored)
    assert (tangents[:, 3] == w).all()
    signed = uv_areas(uv)
    flat = flat_in_tile(uv, signed)
    assert not wrong_handed(tangents, triangles, signed, flat).any()
    tangents[:, 3] *= -1.0
    assert wrong_handed(tangents, triangles, signed, flat).all()


def test_one_wrong_corner_makes_its_triangles_wrong_and_mixed() -> None:
    tangents, triangles, uv = tangents_from_uvs(False)
    tangents[0, 3] = -1.0
    touched = (triangles == 0).any(axis=1)
    signed = uv_areas(uv)
    assert wrong_handed(tangents, triangles, signed, signed == 0).tolist() == touched.tolist()
    assert mixed_signs(tangents, triangles).tolist() == touched.tolist()


def test_flat_uvs_contradict_nothing() -> None:
    tangents, triangles, uv = tangents_from_uvs(False)
    signed = -np.abs(uv_areas(uv)) * 1e-20
    assert not wrong_handed(tangents, triangles, signed, np.ones(len(triangles), bool)).any()


def test_values_out_of_order() -> None:
    tangents = np.array([[1.0, 0, 0, 1], [1, 0, 0, 0.5], [0, 0, 0, -1], [2, 0, 0, 0], [np.nan, 0, 0, np.nan]])
    assert bad_signs(tangents).tolist() == [False, True, False, True, True]
    assert zero_tangents(tangents).tolist() == [False, False, True, False, True]
    assert not_unit_tangents(tangents).tolist() == [False, False, False, True, False]
