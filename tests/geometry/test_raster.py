from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.spatial import Delaunay

from tidegate.geometry import raster


def triangles(*rows: list[tuple[float, float]]) -> np.ndarray:
    return np.array(rows, float).transpose(1, 2, 0)


def rectangle(x0: float, y0: float, x1: float, y1: float) -> np.ndarray:
    return triangles([(x0, y0), (x1, y0), (x1, y1)], [(x0, y0), (x1, y1), (x0, y1)])


def by_centres(texels: np.ndarray, width: int, height: int) -> np.ndarray:
    """Coverage another way: the sign of every edge at every sample."""
    x = np.arange(width)[None, :, None] + 0.5 + 2.0**-20
    y = np.arange(height)[:, None, None] + 0.5 + 0.38 * 2.0**-20
    signs = []
    for k in range(3):
        (ax, ay), (bx, by) = texels[k], texels[(k + 1) % 3]
        signs.append((bx - ax) * (y - ay) - (by - ay) * (x - ax))
    inside = ((signs[0] > 0) & (signs[1] > 0) & (signs[2] > 0)) | ((signs[0] < 0) & (signs[1] < 0) & (signs[2] < 0))
    return inside.sum(axis=2)


def test_the_texels_of_a_rectangle_worked_out() -> None:
    # Centres stand at .5: from 1 to 3 the columns 1 and 2, from 2 to 3 the row 2.
    grid = raster.coverage(rectangle(1, 2, 3, 3), 5, 4)
    assert grid.tolist() == [[0] * 5, [0] * 5, [0, 1, 1, 0, 0], [0] * 5]
    # Through the centres themselves: low borders are inside, high ones are not.
    grid = raster.coverage(rectangle(1.5, 0.5, 3.5, 2.5), 5, 4)
    assert grid.tolist() == [[0, 1, 1, 0, 0], [0, 1, 1, 0, 0], [0] * 5, [0] * 5]


@pytest.mark.parametrize("angle", [0, 30, 45, 60, 90, 123.4])
@pytest.mark.parametrize("centre", [(16.0, 16.0), (16.5, 16.5), (15.5, 16.0)])
def test_a_fan_covers_every_texel_once(angle: float, centre: tuple[float, float]) -> None:
    # Spokes run through centres at 45 and 90 degrees; the fan fills the window whole.
    spokes = np.radians(angle + np.arange(0, 360, 15.0))
    rim = np.stack([centre[0] + 60 * np.cos(spokes), centre[1] + 60 * np.sin(spokes)], axis=1)
    fan = [[centre, tuple(rim[k]), tuple(rim[(k + 1) % len(rim)])] for k in range(len(rim))]
    assert (raster.coverage(triangles(*fan), 32, 32) == 1).all()


@settings(max_examples=30, deadline=None)
@given(st.integers(0, 2**32 - 1), st.integers(4, 80), st.sampled_from([0.0, 0.5, 0.25]))
def test_a_triangulation_covers_every_texel_of_its_hull_once(seed: int, count: int, step: float) -> None:
    rng = np.random.default_rng(seed)
    points = rng.random((count, 2)) * 20
    if step:
        points = np.round(points / step) * step
    points = np.unique(np.concatenate([points, [(-1, -1), (21, -1), (21, 21), (-1, 21)]]), axis=0)
    mesh = points[Delaunay(points).simplices].transpose(1, 2, 0)
    assert (raster.coverage(mesh, 20, 20) == 1).all()


@settings(max_examples=40, deadline=None)
@given(st.integers(0, 2**32 - 1), st.integers(1, 25), st.sampled_from([0.05, 1.0, 40.0]))
def test_coverage_agrees_with_testing_every_centre(seed: int, count: int, size: float) -> None:
    rng = np.random.default_rng(seed)
    texels = rng.random((1, 2, count)) * 24 - 2 + (rng.random((3, 2, count)) - 0.5) * size
    assert (raster.coverage(texels, 20, 17) == by_centres(texels, 20, 17)).all()


def test_an_edge_divided_on_one_side_only_leaves_no_gap_and_no_double() -> None:
    # From (0.5, 0.5) to (30.5, 10.5): a slope of 1/3 through centres, divided below at thirds that no float holds.
    a, b = np.array([0.5, 0.5]), np.array([30.5, 10.5])
    points = [a + (b - a) * k / 7 for k in range(8)]
    below = [[tuple(points[k]), (31.0, -20.0), tuple(points[k + 1])] for k in range(7)]
    above = [[tuple(a), tuple(b), (0.0, 40.0)]]
    both = raster.coverage(triangles(*below, *above), 31, 12)
    assert both.max() == 1
    assert (both == raster.coverage(triangles([tuple(a), (31.0, -20.0), tuple(b)], *above), 31, 12)).all()


@pytest.mark.parametrize("huge", [1e4, 1e9])
def test_a_huge_triangle_and_a_tiny_one(huge: float) -> None:
    window = triangles([(-huge, -huge), (3 * huge, -huge), (-huge, 3 * huge)])
    assert (raster.coverage(window, 9, 7) == 1).all()
    around_a_centre = triangles([(4.4, 4.4), (4.7, 4.4), (4.5, 4.7)])
    assert raster.coverage(around_a_centre, 9, 7).sum() == 1
    between_centres = triangles([(4.6, 4.6), (4.9, 4.6), (4.6, 4.9)])
    assert raster.coverage(between_centres, 9, 7).sum() == 0


@pytest.mark.parametrize(
    "row",
    [
        [(1, 1), (5, 1), (3, 1)],
        [(1, 1), (1, 5), (1, 3)],
        [(1, 1), (5, 5), (3, 3)],
        [(2.5, 2.5)] * 3,
        [(0.5, 0.5), (3.5, 1.5), (6.5, 2.5)],
    ],
)
def test_triangles_without_area_cover_nothing(row: list[tuple[float, float]]) -> None:
    assert raster.coverage(triangles(row), 8, 8).sum() == 0


def test_outside_the_window_nothing_is_drawn() -> None:
    for away in ((-20, 2), (20, 2), (2, -20), (2, 20)):
        assert raster.coverage(rectangle(away[0], away[1], away[0] + 3, away[1] + 3), 8, 8).sum() == 0
    assert raster.coverage(rectangle(-5, -5, 2, 3), 8, 8).sum() == 6
    assert raster.coverage(np.zeros((3, 2, 0)), 4, 3).shape == (3, 4)


def test_a_turn_of_the_corners_changes_nothing() -> None:
    texels = np.random.default_rng(6).random((3, 2, 30)) * 25
    plain = raster.coverage(texels, 25, 25)
    assert (raster.coverage(texels[[1, 2, 0]], 25, 25) == plain).all()
    assert (raster.coverage(texels[[2, 1, 0]], 25, 25) == plain).all()


def test_blocks_join_without_a_seam(monkeypatch: pytest.MonkeyPatch) -> None:
    texels = np.random.default_rng(7).random((3, 2, 50)) * 30
    labels = np.random.default_rng(8).integers(-1, 6, 50).astype(np.int32)
    whole, own = raster.coverage(texels, 30, 30), raster.owners(texels, labels, 30, 30)
    monkeypatch.setattr(raster, "_TRIANGLES_AT_ONCE", 7)
    monkeypatch.setattr(raster, "_ROWS_AT_ONCE", 20)
    assert (raster.coverage(texels, 30, 30) == whole).all()
    assert (raster.owners(texels, labels, 30, 30) == own).all()


def test_rows_can_be_asked_for_in_bands() -> None:
    texels = np.random.default_rng(9).random((3, 2, 20)) * 16
    rows = [
        (r, x, y, t)
        for s in raster.spans(texels, 16, 16)
        for r, x, y, t in zip(*map(np.ndarray.tolist, s), strict=True)
    ]
    bands = [
        (r, x, y, t)
        for first, end in ((0, 5), (5, 6), (6, 16))
        for s in raster.spans(texels, 16, 16, first, end)
        for r, x, y, t in zip(*map(np.ndarray.tolist, s), strict=True)
    ]
    assert sorted(rows) == sorted(bands)
    assert all(x < y for _, x, y, _ in rows)


def test_of_several_islands_the_lowest_owns_a_texel() -> None:
    texels = np.concatenate([rectangle(0, 0, 3, 1), rectangle(1, 0, 4, 1), rectangle(5, 0, 6, 1)], axis=2)
    own = raster.owners(texels, np.array([7, 7, 2, 2, -1, -1], np.int32), 7, 1)
    assert own.tolist() == [[7, 2, 2, 2, -1, -1, -1]]


def test_texels_are_uvs_times_the_size_of_the_map() -> None:
    uv = triangles([(0.25, 0.5), (1.0, 0.0), (0.0, 1.0)])
    assert raster.texel_columns(uv, 8, 4)[:, :, 0].tolist() == [[2.0, 2.0], [8.0, 0.0], [0.0, 4.0]]
