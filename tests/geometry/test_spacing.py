from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import MultiLineString

from tests.geometry.shapes import grid, together
from tidegate.geometry import spacing
from tidegate.geometry.borders import border_sides, side_points
from tidegate.geometry.segments import segment_distances
from tidegate.geometry.spacing import Gaps, border_gaps, island_gaps


def outline(x0: float, y0: float, x1: float, y1: float) -> np.ndarray:
    ring = np.array([(x0, y0), (x1, y0), (x1, y1), (x0, y1)], float)
    return np.stack([ring, np.roll(ring, -1, axis=0)]).transpose(0, 2, 1)  # (2, 2, 4)


def measure(*rings: np.ndarray, reach: float = 1000.0, group: list[int] | None = None) -> Gaps:
    both = np.concatenate(rings, axis=2)
    island = np.repeat(np.arange(len(rings), dtype=np.int32), [r.shape[2] for r in rings])
    return island_gaps(
        both[0], both[1], island, len(rings), reach, None if group is None else np.array(group, np.int32)
    )


def test_gaps_worked_out() -> None:
    # 0 and 1 side by side, 3 apart; 2 stands off 1 by 3 across and 4 up: 5 over the corner.
    found = measure(outline(0, 0, 10, 10), outline(13, 0, 20, 10), outline(23, 14, 30, 20))
    assert found.gap.tolist() == [3.0, 3.0, 5.0]
    assert found.neighbour.tolist() == [1, 0, 1]
    # Many places are equally near; the lowest is named, the middle between the two islands.
    np.testing.assert_allclose(found.point[0], [11.5, 0.0])
    np.testing.assert_allclose(found.point[2], [21.5, 12.0])


def test_the_nearest_place_may_be_inside_a_side() -> None:
    spike = np.array([[(5.0, 12.0), (8.0, 20.0), (2.0, 20.0)]])[0]
    ring = np.stack([spike, np.roll(spike, -1, axis=0)]).transpose(0, 2, 1)
    found = measure(outline(0, 0, 10, 10), ring)
    assert found.gap.tolist() == [2.0, 2.0]
    np.testing.assert_allclose(found.point, [[5.0, 11.0], [5.0, 11.0]])


@pytest.mark.parametrize(("reach", "gap"), [(3.0, 3.0), (2.99, np.inf)])
def test_both_sides_of_the_reach(reach: float, gap: float) -> None:
    found = measure(outline(0, 0, 10, 10), outline(13, 0, 20, 10), reach=reach)
    assert found.gap.tolist() == [gap, gap]
    assert (found.neighbour.tolist() == [1, 0]) == np.isfinite(gap)
    assert np.isnan(found.point).all() != np.isfinite(gap)


def test_islands_of_one_group_are_not_compared() -> None:
    rings = [outline(0, 0, 10, 10), outline(10, 0, 20, 10), outline(26, 0, 30, 10)]
    assert measure(*rings).gap.tolist() == [0.0, 0.0, 6.0]
    found = measure(*rings, group=[4, 4, 7])
    assert found.gap.tolist() == [16.0, 6.0, 6.0]
    assert found.neighbour.tolist() == [2, 2, 1]


def test_islands_that_cross_have_no_gap() -> None:
    found = measure(outline(0, 4, 10, 6), outline(4, 0, 6, 10))
    assert found.gap.tolist() == [0.0, 0.0]


@settings(max_examples=30, deadline=None)
@given(st.integers(0, 2**32 - 1), st.integers(2, 7), st.sampled_from([10.0, 60.0, 600.0]))
def test_gaps_equal_those_of_shapely(seed: int, count: int, spread: float) -> None:
    rng = np.random.default_rng(seed)
    sides = rng.integers(1, 8, count)
    island = np.repeat(np.arange(count, dtype=np.int32), sides)
    start = rng.random((2, len(island))) * spread
    end = start + rng.normal(size=start.shape) * rng.choice([0.5, 15.0])
    found = island_gaps(start, end, island, count, 2000.0)
    lines = [
        MultiLineString([(tuple(start[:, b]), tuple(end[:, b])) for b in np.flatnonzero(island == k)])
        for k in range(count)
    ]
    for k in range(count):
        nearest = min(lines[k].distance(lines[j]) for j in range(count) if j != k)
        assert found.gap[k] == pytest.approx(nearest, abs=2e-6)
        assert lines[k].distance(lines[found.neighbour[k]]) == pytest.approx(nearest, abs=2e-6)


@settings(max_examples=20, deadline=None)
@given(st.integers(0, 2**32 - 1), st.floats(-500, 500))
def test_order_and_place_of_the_sides_change_nothing(seed: int, shift: float) -> None:
    rng = np.random.default_rng(seed)
    island = np.repeat(np.arange(6, dtype=np.int32), 5)
    start = np.round(rng.random((2, 30)) * 40)
    end = start + np.round(rng.normal(size=(2, 30)) * 4)
    plain = island_gaps(start, end, island, 6, 100.0)
    order = rng.permutation(30)
    other = island_gaps(end[:, order], start[:, order], island[order], 6, 100.0)
    for one, two in zip(plain, other, strict=True):
        assert np.array_equal(one, two)
    moved = island_gaps(start + shift, end + shift, island, 6, 100.0)
    np.testing.assert_allclose(moved.gap, plain.gap, atol=3e-6)


def test_batches_join_without_a_seam(monkeypatch: pytest.MonkeyPatch) -> None:
    rng = np.random.default_rng(2)
    island = np.repeat(np.arange(10, dtype=np.int32), 8)
    start = rng.random((2, 80)) * 60
    end = start + rng.normal(size=(2, 80)) * 5
    whole = island_gaps(start, end, island, 10, 100.0)
    monkeypatch.setattr(spacing, "_AT_ONCE", 13)
    for one, two in zip(whole, island_gaps(start, end, island, 10, 100.0), strict=True):
        assert np.array_equal(one, two)


def test_a_thousand_stacked_islands_of_one_group_are_no_trouble() -> None:
    rings = [outline(0, 0, 10, 10)] * 1000 + [outline(17, 0, 20, 10)]
    found = measure(*rings, group=[0] * 1000 + [1])
    assert set(found.gap.tolist()) == {7.0}


def test_islands_without_borders_or_company_have_no_gap_to_tell() -> None:
    none = np.zeros((2, 0))
    assert np.isinf(island_gaps(none, none, np.zeros(0, np.int32), 2, 50.0).gap).all()
    assert np.isinf(measure(outline(0, 0, 1, 1)).gap).all()


def test_from_uvs_to_texels() -> None:
    prop = together(grid(4, 4, (0.0, 0.0), 0.25), grid(4, 4, (0.25 + 8 / 512, 0.0), 0.25))
    labels, count = prop.labels()
    sides = border_sides(prop.mates(), labels)
    start, end = side_points(prop.uv_columns(), sides)
    assert island_gaps(start * 512, end * 512, labels[sides // 3], count, 64.0).gap.tolist() == [8.0, 8.0]
    assert island_gaps(start * 1024, end * 1024, labels[sides // 3], count, 64.0).gap.tolist() == [16.0, 16.0]


def test_room_to_the_border_of_the_tile() -> None:
    boxes = np.array(
        [[3.0, 9, 50, 50], [9, 2, 50, 50], [9, 9, 63, 50], [9, 9, 50, 31.5], [-4, 9, 50, 30], [0, 0, 64, 32]]
    )
    gap, side = border_gaps(boxes, 64, 32)
    assert gap.tolist() == [-18.0, -18.0, -18.0, 0.5, -4.0, 0.0]
    assert side.tolist() == [3, 3, 3, 3, 0, 0]
    gap, side = border_gaps(boxes[:4], 64, 64)
    assert gap.tolist() == [3.0, 2.0, 1.0, 9.0]
    assert side.tolist() == [0, 1, 2, 0]


def test_distance_of_segments_and_where() -> None:
    a0, a1 = np.array([[0.0], [0.0]]), np.array([[10.0], [0.0]])
    for b0, b1, distance, place in [
        ((3, 2), (7, 4), 2.0, (3, 1)),  # end over a side
        ((13, 4), (13, 9), 5.0, (11.5, 2)),  # corner to corner
        ((5, -1), (5, 1), 0.0, (5, 0)),  # crossing
        ((10, 0), (20, 7), 0.0, (10, 0)),  # touching
        ((4, 3), (4, 3), 3.0, (4, 1.5)),  # a point
    ]:
        found, point = segment_distances(a0, a1, np.array(b0, float)[:, None], np.array(b1, float)[:, None])
        assert found.tolist() == [distance]
        assert point[:, 0].tolist() == list(place)
