"""Triangles in the tile, summed by island."""

from __future__ import annotations

import numpy as np
import pytest

from tests.support.laid_props import Sheet, laid, laid_part, painted, sheet
from tests.support.mesh_props import facts_of
from tidegate.measure.unfolding import Unfolding


def unfolding(*sheets: Sheet) -> Unfolding:
    found = facts_of(laid(*sheets), "unfolding").unfolding
    assert isinstance(found, Unfolding)
    return found


def test_ratio_agrees_with_singular_values() -> None:
    rng = np.random.default_rng(5)
    one = sheet(100, 100, 900, 900, cells=(3, 3))
    one.points[:] += rng.normal(0, 0.05, one.points.shape)
    (layer,) = unfolding(one).layers
    for t, (a, b, c) in enumerate(one.triangles):
        tile = np.stack([one.uv[b] - one.uv[a], one.uv[c] - one.uv[a]], 1) * 1024
        space = np.stack([one.points[b] - one.points[a], one.points[c] - one.points[a]], 1)
        larger, smaller = np.linalg.svd(space @ np.linalg.inv(tile), compute_uv=False)
        assert layer.ratio[t] == pytest.approx(larger / smaller, rel=1e-5)


def test_surface_beyond_a_limit_is_summed_by_island_over_parts() -> None:
    pulled = sheet(100, 100, 200, 200, metres=(0.6, 0.2))
    even = sheet(300, 100, 400, 200, metres=(0.2, 0.2))
    thing = painted(laid_part(even, pulled), laid_part(pulled, mesh="keel"))
    found = facts_of(thing, "unfolding").unfolding
    np.testing.assert_allclose(found.stretched_surface(2.99), [0.12, 0.0, 0.12])
    np.testing.assert_allclose(found.stretched_surface(3.0), [0.0, 0.0, 0.0])
    np.testing.assert_allclose(found.judged_surface, [0.12, 0.04, 0.12])


def test_density_inside_an_island_by_surface() -> None:
    # Two cells of one square metre each; the second is laid out twice as wide.
    one = sheet(100, 100, 300, 200, cells=(2, 1), metres=(2.0, 1.0))
    one.uv[:] = np.array([[100, 100], [200, 100], [400, 100], [100, 200], [200, 200], [400, 200]]) / 1024
    found = unfolding(one)
    low, high = found.density_range(1.0)
    # 100 x 100 texels a square metre, then 200 x 100: 100 px/m and 141.42 px/m
    np.testing.assert_allclose([low[0], high[0]], [100.0, 141.421356], rtol=1e-6)
    assert np.isnan(found.density_range(1.5)[0]).all()  # no more than 1.41 apart: not asked


def test_the_slope_of_density_points_to_where_it_is_dense() -> None:
    # Columns of equal surface that widen by a twentieth each from left to right.
    one = sheet(100, 100, 500, 300, cells=(16, 8), metres=(4.0, 2.0))
    edges = np.concatenate([[0.0], np.cumsum(1.05 ** np.arange(16))])
    one.uv[:, 0] = np.tile(100 + 400 * edges / edges[-1], 9) / 1024
    across, up = unfolding(one).density_slope[0]
    # From the first column's middle to the last one's, about 375 texels, density grows by half of 15 log2(1.05) doublings.
    assert across == pytest.approx(0.5 * 15 * np.log2(1.05) / (375 / 1024), rel=0.05)
    assert abs(up) < 0.1 * across


def test_border_runs_are_in_texels_of_the_picture() -> None:
    facts = facts_of(laid(sheet(100, 100, 300, 150, cells=(4, 2)), sheet(400, 400, 500, 500)), "unfolding")
    (runs,) = facts.unfolding.border_runs(facts.pictures[0])
    length = np.hypot(*(runs.end - runs.start))
    assert sorted(np.round(length[runs.island == 0], 6).tolist()) == [50, 50, 200, 200]
    assert sorted(np.round(length[runs.island == 1], 6).tolist()) == [100, 100, 100, 100]
