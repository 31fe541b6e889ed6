import numpy as np

from tests.pixels.synthetic import layout, raster
from tidegate.pixels.border_bands import border_bands
from tidegate.pixels.unpainted import unpainted


def test_holes_are_counted_per_island_and_boxed_the_largest_first():
    labels = np.full((20, 30), -1, np.int32)
    labels[:, :10], labels[:, 20:] = 0, 1
    painted = labels >= 0
    painted[3:6, 2:4] = False  # 6 texels of island 0
    painted[10:15, 22:29] = False  # 35 of island 1
    painted[18, 0] = False
    found = unpainted(painted, labels, np.array([200, 200]))
    assert found.texels.tolist() == [7, 35]
    assert found.share.tolist() == [0.035, 0.175]
    assert found.worst_island.tolist() == [1, 0, 0]
    assert found.worst_texels.tolist() == [35, 6, 1]
    assert found.worst_box.tolist() == [[22, 10, 29, 15], [2, 3, 4, 6], [0, 18, 1, 19]]


def test_bare_ground_outside_islands_is_not_unpainted_and_no_background_means_none():
    labels = np.full((5, 5), -1, np.int32)
    labels[2, 2] = 0
    found = unpainted(labels == 0, labels, np.array([1]))
    assert found.texels.tolist() == [0]
    assert len(found.worst_box) == 0
    assert unpainted(None, labels, np.array([1])).texels.tolist() == [0]


def test_an_island_without_texels_has_share_zero():
    found = unpainted(np.zeros((2, 2), bool), np.zeros((2, 2), np.int32), np.array([4, 0]))
    assert found.share.tolist() == [1.0, 0.0]


def test_random_holes_are_found_to_the_texel():
    for seed in range(20):
        rng = np.random.default_rng(seed)
        polygons = layout(rng, 80, 110, 5)
        labels = raster(polygons, 80, 110)
        bands = border_bands(labels, len(polygons), 3)
        painted = rng.random(labels.shape) > 0.03
        found = unpainted(painted, labels, bands.totals[:, 0], worst=10_000)
        for i in range(len(polygons)):
            assert found.texels[i] == ((labels == i) & ~painted).sum()
        assert found.worst_texels.sum() == ((labels >= 0) & ~painted).sum()
