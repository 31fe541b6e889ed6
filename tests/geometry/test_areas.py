from __future__ import annotations

import numpy as np
import pytest
import trimesh
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.geometry.shapes import box, grid, random_sheet, together
from tidegate.geometry import areas


def columns(*points: tuple[float, ...]) -> np.ndarray:
    return np.array(points, float)[:, :, None]


def test_sign_of_the_uv_area_follows_the_way_round() -> None:
    # Worked: triangle (0,0) (1,0) (0,1) has area 1/2. With V up an unmirrored front is counter-clockwise: +. The same
    # layout in coordinates that count V downward (glTF 2.0, 3.8.3: origin in the upper left) reads -, and so does
    # one mirrored in U.
    assert areas.uv_areas(columns((0, 0), (1, 0), (0, 1))) == [0.5]
    assert areas.uv_areas(columns((0, 1), (1, 1), (0, 0))) == [-0.5]
    assert areas.uv_areas(columns((1, 0), (0, 0), (1, 1))) == [-0.5]


def test_surface_areas_equal_those_of_trimesh() -> None:
    sheet = random_sheet(np.random.default_rng(2), 200)
    mesh = trimesh.Trimesh(sheet.positions, sheet.triangles, process=False)
    np.testing.assert_allclose(areas.surface_areas(sheet.xyz_columns()), mesh.area_faces, atol=1e-15)


@pytest.mark.parametrize(
    ("height", "flat"),
    # Single precision near 1 steps by 2^-23 = 1.19e-7: a height of one step is rounding, of two is not.
    [(0.0, True), (1.1e-7, True), (1.3e-7, False), (1e-3, False)],
)
def test_flat_means_a_height_lost_in_single_precision(height: float, flat: bool) -> None:
    uv = columns((0.9, 1.0), (1.0, 1.0), (0.95, 1.0 - height))
    assert areas.flat_in_tile(uv, areas.uv_areas(uv)).tolist() == [flat]


def test_a_small_triangle_is_not_flat_for_being_small() -> None:
    uv = columns((0, 0), (1e-5, 0), (0, 1e-5))
    assert not areas.flat_in_tile(uv, areas.uv_areas(uv)).any()


def test_sums_boxes_and_centres_leave_out_triangles_without_an_island() -> None:
    sheet = together(grid(2, 1), grid(1, 1, (2.0, 3.0), 0.5))
    labels = np.array([0, 0, 0, 0, 1, -1], np.int32)
    uv, xyz = sheet.uv_columns(), sheet.xyz_columns()
    surface = areas.surface_areas(xyz)
    assert areas.island_sums(surface, labels, 3).tolist() == [2.0, 0.5, 0.0]
    boxes = areas.island_boxes(uv, labels, 3)
    assert boxes[0].tolist() == [0.0, 0.0, 1.0, 0.5]
    # Of the second sheet only the lower right triangle (0,0) (1,0) (1,1) counts.
    assert boxes[1].tolist() == [2.0, 3.0, 2.5, 3.5]
    assert np.isnan(boxes[2]).all()
    centres = areas.island_centres(xyz, surface, labels, 3)
    np.testing.assert_allclose(centres[0], [1.0, 0.5, 0.0])
    np.testing.assert_allclose(centres[1], [2 / 3, 1 / 3, 0.0])
    assert np.isnan(centres[2]).all()


def test_the_centre_of_an_island_without_area_is_that_of_its_corners() -> None:
    xyz = columns((1, 2, 3), (1, 2, 3), (4, 2, 3))
    assert areas.island_centres(xyz, np.zeros(1), np.zeros(1, np.int32), 1).tolist() == [[2.0, 2.0, 3.0]]


def test_a_cube_has_six_square_metres() -> None:
    points, triangles = box()
    xyz = points[triangles].transpose(1, 2, 0)
    assert areas.surface_areas(xyz).sum() == pytest.approx(6.0)
    # Fronts of the shared cube look outwards.
    assert ((areas.cross_products(xyz) * xyz.mean(axis=0)).sum(axis=0) > 0).all()


@settings(max_examples=30, deadline=None)
@given(st.integers(0, 2**32 - 1), st.floats(0, 6.3), st.floats(0.1, 10))
def test_turning_and_scaling_uvs_scales_areas_and_mirroring_changes_their_sign(
    seed: int, angle: float, scale: float
) -> None:
    uv = np.random.default_rng(seed).random((3, 2, 20))
    turn = scale * np.array([[np.cos(angle), -np.sin(angle)], [np.sin(angle), np.cos(angle)]])
    turned = np.einsum("ij,cjm->cim", turn, uv) + np.array([3.0, -2.0])[None, :, None]
    plain = areas.uv_areas(uv)
    np.testing.assert_allclose(areas.uv_areas(turned), plain * scale**2, atol=1e-12 * scale**2)
    np.testing.assert_allclose(areas.uv_areas(uv * np.array([-1.0, 1.0])[None, :, None]), -plain, atol=1e-15)
