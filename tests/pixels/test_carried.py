import numpy as np
import pytest

from tests.pixels.scenes import filled_up, painted
from tidegate.pixels.border_bands import FAR, border_bands
from tidegate.pixels.carried import carried_share, edge_share
from tidegate.pixels.differing import differing


def far_places(image, bands, color):
    return np.flatnonzero((bands.band == FAR) & ~differing(image, color))


@pytest.mark.parametrize("seed", range(6))
def test_nearest_fill_is_carried_and_a_ground_is_not(seed):
    rng = np.random.default_rng(seed)
    scene = filled_up(rng, "flat")
    bands = scene.bands(8)
    color = scene.image[np.unravel_index(np.flatnonzero(bands.band == FAR)[0], bands.band.shape)]
    assert carried_share(scene.image, bands, far_places(scene.image, bands, color), color) == 1.0
    scene = painted(rng)
    bands = scene.bands(8)
    assert carried_share(scene.image, bands, far_places(scene.image, bands, scene.ground), scene.ground) == 0.0
    assert edge_share(scene.image, bands, scene.ground) == 0.0


def test_shares_without_edges_or_places():
    bands = border_bands(np.full((8, 8), -1, np.int32), 0, 2)
    image = np.zeros((8, 8), np.uint8)
    assert carried_share(image, bands, np.arange(64), (0,)) == 0.0
    assert edge_share(image, bands, (0,)) == 0.0
    labels = np.full((8, 8), -1, np.int32)
    labels[:2, :2] = 0
    bands = border_bands(labels, 1, 2)
    assert carried_share(image, bands, np.zeros(0, int), (0,)) == 0.0
    image[0, 1] = 9  # one of the three edge texels
    assert edge_share(image, bands, (0,)) == pytest.approx(2 / 3)
