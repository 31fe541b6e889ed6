import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.pixels.synthetic import layout, raster, true_bands
from tidegate.pixels.border_bands import FAR, INSIDE, SHARED, border_bands, owned_texels


def owners(bands):
    out = np.full(bands.band.size, -1)
    for place, owner, ring in owned_texels(bands):
        assert (out[place] == -1).all(), "a texel came twice"
        assert (bands.band.reshape(-1)[place] == ring).all()
        out[place] = owner
    return out.reshape(bands.band.shape)


def test_one_texel_has_its_four_neighbours_at_one_and_the_corners_at_two():
    labels = np.full((7, 7), -1, np.int32)
    labels[3, 3] = 0
    band = border_bands(labels, 1, 2).band
    # Distances: sides 1 -> band 1; corners 1.414 and straight 2 -> band 2; knight's move 2.236 > 2 -> far.
    F = FAR
    assert band.tolist() == [
        [F, F, F, F, F, F, F],
        [F, F, F, 2, F, F, F],
        [F, F, 2, 1, 2, F, F],
        [F, 2, 1, INSIDE, 1, 2, F],
        [F, F, 2, 1, 2, F, F],
        [F, F, F, 2, F, F, F],
        [F, F, F, F, F, F, F],
    ]


def test_the_middle_of_an_odd_gap_belongs_to_nobody():
    labels = np.full((1, 9), -1, np.int32)
    labels[0, :2], labels[0, 7:] = 0, 1  # gap of five: texels 2 3 | 4 | 5 6
    bands = border_bands(labels, 2, 5)
    assert bands.band[0].tolist() == [0, 0, 1, 2, SHARED, 2, 1, 0, 0]
    assert owners(bands)[0].tolist() == [-1, -1, 0, 0, -1, 1, 1, -1, -1]
    assert bands.totals.tolist() == [[2, 1, 1, 0, 0, 0], [2, 1, 1, 0, 0, 0]]


def test_edge_texels_touch_another_label_by_a_side_but_the_border_of_the_map_is_no_edge():
    labels = np.full((4, 5), -1, np.int32)
    labels[:3, :3] = 0  # lies in the corner of the map
    labels[:3, 3] = 1  # meets it
    bands = border_bands(labels, 2, 3)
    places = {(int(p) // 5, int(p) % 5): int(o) for p, o in zip(bands.edge, bands.edge_owner, strict=True)}
    assert places == {(0, 2): 0, (1, 2): 0, (2, 0): 0, (2, 1): 0, (2, 2): 0, (0, 3): 1, (1, 3): 1, (2, 3): 1}


@pytest.mark.parametrize("seed", range(12))
@pytest.mark.parametrize("depth", [4, 31, 32])  # both sides of the change from 16 to 32 bits
def test_agrees_with_scipy_island_by_island(seed, depth):
    rng = np.random.default_rng(seed)
    height, width = int(rng.integers(40, 120)), int(rng.integers(40, 160))
    polygons = layout(rng, height, width, int(rng.integers(1, 12)))
    labels = raster(polygons, height, width)
    bands = border_bands(labels, len(polygons), depth)
    band, nearest = true_bands(labels, len(polygons), depth)
    assert (bands.band == band).all()
    ours = owners(bands)
    owned = (band >= 1) & (band <= depth)
    assert (ours[owned] == nearest[owned]).all()
    assert (ours[~owned] == -1).all()
    for i in range(len(polygons)):
        for d in range(1, depth + 1):
            assert bands.totals[i, d] == ((band == d) & (nearest == i)).sum()
        assert bands.totals[i, 0] == (labels == i).sum()


def test_strips_of_a_large_map_join_without_a_seam():
    # 700 x 400 is more than two strips; a circle of label 0 and a far label 1.
    y, x = np.mgrid[:700, :400]
    labels = np.where(np.hypot(y - 350, x - 200) < 90, 0, -1).astype(np.int32)
    labels[600:610, 10:60] = 1
    bands = border_bands(labels, 2, 25)
    band, nearest = true_bands(labels, 2, 25)
    assert (bands.band == band).all()
    assert (owners(bands)[(band > 0) & (band < 254)] == nearest[(band > 0) & (band < 254)]).all()


@settings(max_examples=40, deadline=None)
@given(st.integers(0, 10**6), st.integers(1, 12))
def test_turning_and_mirroring_the_layout_turns_and_mirrors_the_bands(seed, depth):
    rng = np.random.default_rng(seed)
    labels = np.where(rng.random((17, 23)) < 0.08, rng.integers(0, 3, (17, 23)), -1).astype(np.int32)
    band = border_bands(labels, 3, depth).band
    y, x = np.mgrid[:17, :23]
    squared = [
        ((y[..., None] - at[:, 0]) ** 2 + (x[..., None] - at[:, 1]) ** 2).min(-1, initial=10**6)
        for at in (np.argwhere(labels == island) for island in range(3))
    ]
    nearest, second, _ = np.sort(squared, axis=0)
    for change in (np.fliplr, np.flipud, np.transpose, np.rot90):
        turned = border_bands(np.ascontiguousarray(change(labels)), 3, depth).band
        # A tie may be seen from one side only; nearness itself may never change, nor anything where one island is nearest.
        # Measured over 3,000 such layouts: ties that change are at most 1.3 % of the texels.
        a, b = change(band), turned
        assert ((a == b) | (a == SHARED) | (b == SHARED)).all()
        assert change(nearest == second)[a != b].all()
        assert (a != b).mean() < 0.02


def test_without_islands_everything_is_far_and_full_of_one_nothing_is():
    empty = border_bands(np.full((5, 6), -1, np.int32), 3, 4)
    assert (empty.band == FAR).all()
    assert empty.far_texels == 30
    assert empty.totals.sum() == 0
    full = border_bands(np.zeros((5, 6), np.int32), 1, 4)
    assert (full.band == INSIDE).all()
    assert full.totals.tolist() == [[30, 0, 0, 0, 0]]
    assert len(full.edge) == 0
    single = border_bands(np.zeros((1, 1), np.int32), 1, 1)
    assert single.totals.tolist() == [[1, 0]]


@pytest.mark.parametrize("depth", [0, 251])
def test_depth_has_limits(depth):
    with pytest.raises(ValueError, match=r"1 \.\. 250"):
        border_bands(np.zeros((2, 2), np.int32), 1, depth)
