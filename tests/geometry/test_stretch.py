"""Worked values after P. V. Sander, J. Snyder, S. J. Gortler, H. Hoppe, "Texture Mapping Progressive Meshes", Proc. ACM
SIGGRAPH 2001, section 3: singular values G, g of the map from tile to surface, L2 = sqrt((G^2 + g^2) / 2), worst = G.
Scaled by sqrt(sum of UV areas / sum of surface areas) an even map has 1.
"""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tidegate.geometry import stretch
from tidegate.geometry.areas import surface_areas, uv_areas

SQUARE = [(0.0, 0.0), (1.0, 0.0), (1.0, 1.0), (0.0, 1.0)]


def quad(uv: list[tuple[float, float]], world: list[tuple[float, float, float]]) -> tuple[np.ndarray, np.ndarray]:
    rows = np.array([[0, 1, 2], [0, 2, 3]])
    return np.array(uv)[rows].transpose(1, 2, 0), np.array(world)[rows].transpose(1, 2, 0)


def measure(uv: np.ndarray, xyz: np.ndarray, width: float = 1.0, height: float = 1.0) -> stretch.IslandStretch:
    larger, smaller = stretch.singular_values(uv, xyz, width, height)
    texels = np.abs(uv_areas(uv)) * width * height
    labels = np.zeros(uv.shape[2], np.int32)
    return stretch.island_stretch(larger, smaller, texels, surface_areas(xyz), labels, 1)


def plane(wide: float, high: float, shear: float = 0.0, rise: float = 0.0) -> list[tuple[float, float, float]]:
    return [(0.0, 0.0, 0.0), (wide, 0.0, 0.0), (wide + shear, high, rise), (shear, high, rise)]


@pytest.mark.parametrize(
    ("world", "larger", "smaller", "l2", "worst", "ratio"),
    [
        # The unit square of the tile on: itself; four times its size; two wide; four wide; sheared by 1; a ramp of 45
        # degrees, 1 wide and sqrt 2 long. Of a rectangle r : 1, L2 = sqrt((r + 1/r) / 2) and worst = sqrt(r).
        (plane(1, 1), 1, 1, 1, 1, 1),
        (plane(4, 4), 4, 4, 1, 1, 1),
        (plane(2, 1), 2, 1, 1.118034, 1.414214, 2),
        (plane(4, 1), 4, 1, 1.457738, 2, 4),
        # Shear by 1 has the golden ratio: (sqrt 5 + 1) / 2 and (sqrt 5 - 1) / 2.
        (plane(1, 1, shear=1), 1.618034, 0.618034, 1.224745, 1.618034, 2.618034),
        (plane(1, 1, rise=1), 1.414214, 1, 1.029884, 1.189207, 1.414214),
    ],
)
def test_worked_values_of_unit_squares(
    world: list[tuple[float, float, float]], larger: float, smaller: float, l2: float, worst: float, ratio: float
) -> None:
    uv, xyz = quad(SQUARE, world)
    most, least = stretch.singular_values(uv, xyz)
    np.testing.assert_allclose(most, larger, rtol=1e-6)
    np.testing.assert_allclose(least, smaller, rtol=1e-6)
    found = measure(uv, xyz)
    np.testing.assert_allclose([found.l2[0], found.worst[0], found.ratio[0]], [l2, worst, ratio], rtol=1e-6)
    assert found.without.tolist() == [0.0]


def test_worked_values_of_a_right_triangle_on_an_equal_sided_one() -> None:
    # G = sqrt(3/2), g = sqrt(1/2); UV area 1/2, surface sqrt(3)/4, so L2 = 1 x sqrt(2 / sqrt 3) = 1.074570.
    uv = np.array([(0.0, 0.0), (1.0, 0.0), (0.0, 1.0)])[:, :, None]
    xyz = np.array([(0.0, 0.0, 0.0), (1.0, 0.0, 0.0), (0.5, math.sqrt(3) / 2, 0.0)])[:, :, None]
    larger, smaller = stretch.singular_values(uv, xyz)
    np.testing.assert_allclose([larger[0], smaller[0]], [1.224745, 0.707107], rtol=1e-6)
    found = measure(uv, xyz)
    np.testing.assert_allclose([found.l2[0], found.worst[0], found.ratio[0]], [1.074570, 1.316074, 1.732051], rtol=1e-6)


def test_worked_values_of_two_squares_of_different_density() -> None:
    # Two world squares of 1 x 1, one on half a tile's width, one on a whole: values (2, 2) and (1, 1). L2 weighted by
    # surface is sqrt((4 + 1) / 2) = 1.581139; scale sqrt(1.25 / 2); so 1.25 and worst 1.581139.
    small, xyz = quad([(0, 0), (0.5, 0), (0.5, 0.5), (0, 0.5)], plane(1, 1))
    large, _ = quad(SQUARE, plane(1, 1))
    found = measure(np.concatenate([small, large], axis=2), np.concatenate([xyz, xyz], axis=2))
    np.testing.assert_allclose([found.l2[0], found.worst[0], found.ratio[0]], [1.25, 1.581139, 1.0], rtol=1e-6)


def test_a_square_under_a_map_of_two_to_one_is_pulled_in_texel_space_only() -> None:
    uv, xyz = quad(SQUARE, plane(1, 1))
    assert measure(uv, xyz).ratio[0] == pytest.approx(1.0)
    larger, smaller = stretch.singular_values(uv, xyz, 2048, 1024)
    np.testing.assert_allclose(larger, 1 / 1024)
    np.testing.assert_allclose(smaller, 1 / 2048)
    assert measure(uv, xyz, 2048, 1024).ratio[0] == pytest.approx(2.0)


@settings(max_examples=40, deadline=None)
@given(st.integers(0, 2**32 - 1), st.sampled_from([1.0, 1e-4, 1e4]))
def test_values_equal_those_of_numpy_linalg_svd(seed: int, scale: float) -> None:
    rng = np.random.default_rng(seed)
    uv, xyz = rng.random((3, 2, 50)), rng.random((3, 3, 50)) * scale
    width, height = 1024.0, 256.0
    larger, smaller = stretch.singular_values(uv, xyz, width, height)
    sides = np.stack([xyz[1] - xyz[0], xyz[2] - xyz[0]], axis=-1).transpose(1, 0, 2)  # (m, 3, 2)
    spread = np.stack([uv[1] - uv[0], uv[2] - uv[0]], axis=-1).transpose(1, 0, 2) * np.array([[width], [height]])
    values = np.linalg.svd(sides @ np.linalg.inv(spread), compute_uv=False)
    fair = np.abs(uv_areas(uv)) > 1e-4
    np.testing.assert_allclose(larger[fair], values[fair, 0], rtol=1e-9)
    np.testing.assert_allclose(smaller[fair], values[fair, 1], rtol=1e-6)


def test_the_smaller_value_keeps_its_digits_on_a_needle() -> None:
    # A unit of tile on 1 m by 1e-9 m: 1/2 (a + c - root) of the textbook formula has no digit of 1e-9 left.
    uv, xyz = quad(SQUARE, plane(1, 1e-9))
    assert stretch.singular_values(uv, xyz)[1] == pytest.approx(1e-9, rel=1e-9)


def test_without_uv_area_it_is_infinite_and_stands_apart() -> None:
    uv, xyz = quad(SQUARE, plane(1, 1))
    uv[:, :, 1] = 0.25  # the second triangle on one point
    larger, smaller = stretch.singular_values(uv, xyz)
    assert np.isinf([larger[1], smaller[1]]).all()
    assert np.isinf(stretch.triangle_ratio(larger, smaller)[1])
    found = measure(uv, xyz)
    assert found.without[0] == pytest.approx(0.5)
    assert found.ratio[0] == pytest.approx(1.0)


def test_without_surface_it_has_no_weight_and_an_island_of_nothing_has_no_stretch() -> None:
    uv, xyz = quad(SQUARE, plane(1, 1))
    xyz[:, :, 1] = 7.0
    larger, smaller = stretch.singular_values(uv, xyz)
    assert (larger[1], smaller[1]) == (0.0, 0.0)
    assert np.isinf(stretch.triangle_ratio(larger, smaller)[1])
    found = measure(uv, xyz)
    assert found.l2[0] == pytest.approx(1.0)
    nothing = measure(uv[:, :, 1:], xyz[:, :, 1:])
    assert np.isnan([nothing.ratio[0], nothing.l2[0], nothing.worst[0]]).all()


def test_share_beyond_a_limit_is_of_the_surface_and_counts_the_infinite() -> None:
    values = np.array([1.5, 2.0, 2.0001, np.inf, 9.0])
    surface = np.array([1.0, 2.0, 3.0, 4.0, 100.0])
    share = stretch.share_beyond(values, 2.0, surface, np.array([0, 0, 0, 0, -1], np.int32), 2)
    assert share[0] == pytest.approx(0.7)
    assert np.isnan(share[1])


@settings(max_examples=30, deadline=None)
@given(st.integers(0, 2**32 - 1), st.floats(0, 6.3), st.floats(0.2, 5), st.booleans())
def test_moving_turning_scaling_and_mirroring_uvs_changes_no_stretch(
    seed: int, angle: float, scale: float, mirror: bool
) -> None:
    rng = np.random.default_rng(seed)
    uv, xyz = rng.random((3, 2, 12)), rng.random((3, 3, 12))
    uv[1] += np.array([2.0, 0.0])[:, None]
    uv[2] += np.array([0.0, 2.0])[:, None]
    turn = scale * np.array([[np.cos(angle), -np.sin(angle)], [np.sin(angle), np.cos(angle)]])
    if mirror:
        turn = turn @ np.diag([-1.0, 1.0])
    moved = np.einsum("ij,cjm->cim", turn, uv) + np.array([0.3, 0.7])[None, :, None]
    plain, other = measure(uv, xyz), measure(moved, xyz)
    np.testing.assert_allclose(
        [plain.ratio[0], plain.l2[0], plain.worst[0]], [other.ratio[0], other.l2[0], other.worst[0]], rtol=1e-6
    )


def test_no_triangles_are_no_trouble() -> None:
    larger, smaller = stretch.singular_values(np.zeros((3, 2, 0)), np.zeros((3, 3, 0)))
    assert len(larger) == len(smaller) == 0


def test_blocks_join_without_a_seam(monkeypatch: pytest.MonkeyPatch) -> None:
    rng = np.random.default_rng(4)
    uv, xyz = rng.random((3, 2, 25)), rng.random((3, 3, 25))
    whole = stretch.singular_values(uv, xyz)
    monkeypatch.setattr(stretch, "_BLOCK", 7)
    pieces = stretch.singular_values(uv, xyz)
    assert (whole[0] == pieces[0]).all()
    assert (whole[1] == pieces[1]).all()
