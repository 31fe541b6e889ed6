from __future__ import annotations

import numpy as np
import pytest

from tests.geometry.shapes import grid
from tidegate.geometry import texel_density as density
from tidegate.geometry.areas import island_sums, surface_areas, uv_areas


@pytest.mark.parametrize(
    ("uv_area", "surface", "width", "height", "wanted"),
    [
        # Worked from sqrt(UV area x width x height / surface), texels per metre:
        # a cube of 1 m, each face on a quarter by a quarter of the tile, 2048 square;
        (6 * 0.0625, 6.0, 2048, 2048, 512.0),
        # a plane of 2 m x 1 m on the whole tile of a map of 2048 x 1024;
        (1.0, 2.0, 2048, 1024, 1024.0),
        # 6 square metres on 60 % of a map of 4096;
        (0.6, 6.0, 4096, 4096, 1295.2690),
        # 1 m x 1 m on the whole of 2048 x 1024: the geometric mean of 2048 and 1024.
        (1.0, 1.0, 2048, 1024, 1448.1547),
    ],
)
def test_worked_values(uv_area: float, surface: float, width: int, height: int, wanted: float) -> None:
    found = density.texel_density(np.array([uv_area]), np.array([surface]), width, height)
    assert found[0] == pytest.approx(wanted, rel=1e-7)


def test_doubling_the_map_doubles_it_and_doubling_the_model_halves_it() -> None:
    one = density.texel_density(np.array([0.3]), np.array([0.7]), 512, 512)
    assert density.texel_density(np.array([0.3]), np.array([0.7]), 1024, 1024) == pytest.approx(2 * one)
    assert density.texel_density(np.array([0.3]), np.array([0.7 * 4]), 512, 512) == pytest.approx(one / 2)


def test_it_is_undefined_without_either_area() -> None:
    found = density.texel_density(np.array([0.0, 1.0, 0.0]), np.array([1.0, 0.0, 0.0]), 64, 64)
    assert np.isnan(found).all()


def test_cutting_an_island_in_two_keeps_areas_and_density() -> None:
    sheet = grid(4, 4)
    uv, surface = np.abs(uv_areas(sheet.uv_columns())), surface_areas(sheet.xyz_columns())
    whole = np.zeros(32, np.int32)
    halves = np.repeat(np.array([0, 1], np.int32), 16)
    assert island_sums(uv, halves, 2).sum() == pytest.approx(island_sums(uv, whole, 1)[0])
    cut = density.texel_density(island_sums(uv, halves, 2), island_sums(surface, halves, 2), 512, 512)
    np.testing.assert_allclose(cut, density.texel_density(uv.sum(), surface.sum(), 512, 512))


def test_spread_is_by_surface_and_not_by_number_of_triangles() -> None:
    # 90 % of the surface at 100, 6 % at 50 and 4 % at 900: the 5th percentile falls into the 50s, the 95th into the 100s.
    values = np.array([100.0, 900.0, 900.0, 50.0, 7.0, np.nan])
    surface = np.array([90.0, 2.0, 2.0, 6.0, 5.0, 3.0])
    found = density.density_spread(values, surface, np.array([0, 0, 0, 0, -1, 1], np.int32), 2)
    assert (found.low[0], found.high[0]) == (50.0, 100.0)
    assert np.isnan([found.low[1], found.high[1]]).all()
    # With one more per cent at 900 the 95th is 900.
    surface[1] = 4.0
    assert density.density_spread(values, surface, np.array([0, 0, 0, 0, -1, 1], np.int32), 2).high[0] == 900.0


def test_spread_of_the_second_island_does_not_see_the_first() -> None:
    values = np.array([1.0, 2.0, 30.0, 40.0])
    found = density.density_spread(values, np.array([1e9, 1e9, 1.0, 1.0]), np.array([0, 0, 1, 1], np.int32), 2)
    assert found.low.tolist() == [1.0, 30.0]
    assert found.high.tolist() == [2.0, 40.0]


def test_gradient_of_a_density_that_doubles_across_the_tile() -> None:
    rng = np.random.default_rng(1)
    uv = rng.random((3, 2, 60))
    u, v = uv[:, 0].mean(axis=0), uv[:, 1].mean(axis=0)
    labels = np.array([0] * 30 + [1] * 30, np.int32)
    values = np.where(labels == 0, 256.0 * 2.0**u, 100.0 * 2.0 ** (-3.0 * v + 0.5 * u))
    found = density.density_gradient(values, rng.random(60) + 0.1, uv, labels, 3)
    np.testing.assert_allclose(found[0], [1.0, 0.0], atol=1e-9)
    np.testing.assert_allclose(found[1], [0.5, -3.0], atol=1e-9)
    assert np.isnan(found[2]).all()


def test_gradient_of_one_triangle_is_none_and_of_a_line_is_along_it() -> None:
    single = density.density_gradient(np.array([5.0]), np.ones(1), np.zeros((3, 2, 1)), np.zeros(1, np.int32), 1)
    assert single.tolist() == [[0.0, 0.0]]
    uv = np.zeros((3, 2, 5))
    uv[:, 0] = np.arange(5.0)
    line = density.density_gradient(2.0 ** np.arange(5.0), np.ones(5), uv, np.zeros(5, np.int32), 1)
    np.testing.assert_allclose(line, [[1.0, 0.0]], atol=1e-12)
