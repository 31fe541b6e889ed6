from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import union_all
from shapely.geometry import Polygon

from tests.geometry.shapes import grid
from tidegate.geometry import overlap as module
from tidegate.geometry.overlap import measure_overlap
from tidegate.geometry.raster import coverage, texel_columns
from tidegate.geometry.stacks import identical_islands


def rectangle(x0: float, y0: float, x1: float, y1: float) -> np.ndarray:
    return np.array([[(x0, y0), (x1, y0), (x1, y1)], [(x0, y0), (x1, y1), (x0, y1)]], float).transpose(1, 2, 0)


def measure(*islands: np.ndarray, width: int = 20, height: int = 20, twins: bool = False) -> module.Overlap:
    texels = np.concatenate(islands, axis=2)
    labels = np.repeat(np.arange(len(islands), dtype=np.int32), [island.shape[2] for island in islands])
    twin_of = identical_islands(texels, labels, len(islands)) if twins else None
    return measure_overlap(texels, labels, len(islands), width, height, twin_of)


def test_islands_side_by_side_share_no_texel() -> None:
    found = measure(rectangle(0, 0, 5.5, 5.5), rectangle(5.5, 0, 11, 5.5), rectangle(0, 5.5, 11, 12))
    assert found.texels == found.between == 0
    assert found.group.tolist() == [-1, -1, -1]
    assert found.covered.max() == 1


def test_two_groups_worked_out() -> None:
    found = measure(
        rectangle(0, 0, 4, 4),  # 0 shares 2 x 2 with 1
        rectangle(2, 2, 6, 6),  # 1 shares 1 x 1 with 2
        rectangle(5, 5, 8, 8),
        rectangle(10, 0, 12, 2),  # 3 lies alone
        rectangle(10, 10, 14, 14),  # 4 and 5 share 1 x 4
        rectangle(13, 10, 16, 14),
    )
    assert found.group.tolist() == [0, 0, 0, -1, 1, 1]
    assert found.group_texels.tolist() == found.group_between.tolist() == [5, 4]
    assert found.group_box.tolist() == [[2, 2, 6, 6], [13, 10, 14, 14]]
    assert (found.texels, found.between) == (9, 9)
    assert found.own.tolist() == [0] * 6


def test_an_island_folded_onto_itself_is_a_group_of_one() -> None:
    folded = np.concatenate([rectangle(0, 0, 4, 4), rectangle(2, 0, 4, 4)], axis=2)
    found = measure(rectangle(9, 9, 12, 12), folded)
    assert found.group.tolist() == [-1, 0]
    assert (found.texels, found.between) == (8, 0)
    assert found.own.tolist() == [0, 8]
    assert found.group_between.tolist() == [0]


def test_labels_that_average_out_are_not_taken_for_one_island() -> None:
    # Islands 0, 1 and 2 on one texel: their mean is 1.
    found = measure(rectangle(0, 0, 1, 1), rectangle(0, 0, 1, 1), rectangle(0, 0, 1, 1))
    assert (found.texels, found.between) == (1, 1)
    assert found.own.tolist() == [0, 0, 0]


@pytest.mark.parametrize("twins", [False, True])
def test_a_thousand_islands_on_one_spot_are_one_group(twins: bool) -> None:
    found = measure(*[rectangle(1, 1, 9, 9)] * 1000, rectangle(12, 12, 14, 14), twins=twins)
    assert set(found.group[:1000].tolist()) == {0}
    assert found.group[1000] == -1
    assert found.group_texels.tolist() == [64]
    assert found.covered.max() == 1000


def by_layers(texels: np.ndarray, labels: np.ndarray, count: int) -> tuple[int, int, list[int], list[set[int]]]:
    layers = np.stack([coverage(np.ascontiguousarray(texels[:, :, labels == k]), 24, 18) for k in range(count)])
    total, islands = layers.sum(axis=0), (layers > 0).sum(axis=0)
    own = [int(((layer > 1) & (islands == 1)).sum()) for layer in layers]
    groups: list[set[int]] = []
    for y, x in np.argwhere(total > 1):
        members = set(np.flatnonzero(layers[:, y, x]).tolist())
        for other in [g for g in groups if g & members]:
            members |= other
            groups.remove(other)
        groups.append(members)
    return int((total > 1).sum()), int((islands > 1).sum()), own, groups


@settings(max_examples=50, deadline=None)
@given(st.integers(0, 2**32 - 1), st.integers(1, 8), st.integers(1, 30), st.booleans(), st.booleans())
def test_it_agrees_with_drawing_every_island_alone(seed: int, count: int, rows: int, snap: bool, twins: bool) -> None:
    rng = np.random.default_rng(seed)
    texels = rng.random((1, 2, rows)) * 24 + (rng.random((3, 2, rows)) - 0.5) * rng.choice([2.0, 8.0, 30.0])
    if snap:
        texels = np.rint(texels * 2) / 2
    labels = rng.integers(0, count, rows).astype(np.int32)
    if twins:  # islands 0 and 1 once more, two times
        for original in (0, 1, 0):
            again = labels == original
            texels = np.concatenate([texels, texels[[1, 2, 0]][:, :, again]], axis=2)
            labels = np.append(labels, np.full(int(again.sum()), count)).astype(np.int32)
            count += 1
    shared, between, own, groups = by_layers(texels, labels, count)
    plain = measure_overlap(texels, labels, count, 24, 18)
    drawn_once = measure_overlap(texels, labels, count, 24, 18, identical_islands(texels, labels, count))
    for found in (plain, drawn_once):
        assert (found.texels, found.between, found.own.tolist()) == (shared, between, own)
        members = [set(np.flatnonzero(found.group == g).tolist()) for g in range(len(found.group_texels))]
        assert sorted(map(sorted, members)) == sorted(map(sorted, groups))
        assert found.group_texels.sum() == shared
        assert found.group_between.sum() == between


def test_bands_join_without_a_seam(monkeypatch: pytest.MonkeyPatch) -> None:
    rng = np.random.default_rng(3)
    texels = rng.random((3, 2, 60)) * 20
    labels = rng.integers(0, 9, 60).astype(np.int32)
    whole = measure_overlap(texels, labels, 9, 20, 20)
    monkeypatch.setattr(module, "_AT_ONCE", 50)
    banded = measure_overlap(texels, labels, 9, 20, 20)
    for one, other in zip(whole, banded, strict=True):
        assert np.array_equal(one, other)


def test_texel_counts_converge_to_the_exact_area_as_the_map_grows() -> None:
    # Two rings of triangles, one moved and turned; the exact shared area by shapely.
    angle = np.linspace(0, 2 * np.pi, 30)[:-1]
    rim = np.stack([0.4 + 0.3 * np.cos(angle), 0.4 + 0.25 * np.sin(angle)], axis=1)
    fan = np.stack([np.broadcast_to([0.4, 0.4], rim.shape), rim, np.roll(rim, -1, axis=0)])  # (3, m, 2)
    c, s = np.cos(0.7), np.sin(0.7)
    other = fan @ np.array([[c, s], [-s, c]]) * 0.8 + [0.45, 0.0]
    exact = union_all([Polygon(t) for t in fan.transpose(1, 0, 2)]).intersection(
        union_all([Polygon(t) for t in other.transpose(1, 0, 2)])
    )
    uv = np.concatenate([fan, other], axis=1).transpose(0, 2, 1)
    labels = np.repeat(np.arange(2, dtype=np.int32), 29)
    errors = []
    for size in (64, 256, 1024):
        found = measure_overlap(texel_columns(uv, size, size), labels, 2, size, size)
        errors.append(abs(found.between / size**2 - exact.area))
        # A texel is miscounted at most where the outline passes: within about one texel of it.
        assert errors[-1] <= exact.length / size
    assert errors[2] < 2e-5
    assert errors[2] < errors[0]


@pytest.mark.parametrize("size", [16, 37, 128])
def test_an_island_of_many_triangles_shares_no_texel_with_itself(size: int) -> None:
    sheet = grid(16, 16)
    found = measure_overlap(texel_columns(sheet.uv_columns(), size, size), np.zeros(512, np.int32), 1, size, size)
    assert found.texels == 0
    assert (found.covered == 1).all()


def test_triangles_without_an_island_take_no_part() -> None:
    texels = np.concatenate([rectangle(0, 0, 4, 4)] * 2, axis=2)
    found = measure_overlap(texels, np.array([0, 0, -1, -1], np.int32), 1, 8, 8)
    assert found.texels == 0
    none = measure_overlap(np.zeros((3, 2, 0)), np.zeros(0, np.int32), 0, 8, 8)
    assert none.texels == 0
    assert none.covered.shape == (8, 8)
