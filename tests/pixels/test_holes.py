import numpy as np
import pytest

from tidegate.pixels.background import Background
from tidegate.pixels.holes import holes
from tidegate.pixels.unpainted import unpainted


def looked_at(image, labels, tolerance=0):
    code = 65535 // 255 if image.dtype == np.uint16 else 1
    ground = Background((20 * code,) * image.shape[2], tolerance, 1.0, 1000, 8, 0.0)
    painted = (np.abs(image.astype(int) - 20 * code) > tolerance * code).any(axis=2)
    return holes(image, ground, painted, labels, unpainted(painted, labels, np.bincount(labels[labels >= 0])))


@pytest.mark.parametrize("kind", [np.uint8, np.uint16])
@pytest.mark.parametrize("size", [(60, 60), (60, 5000)])  # the wide one is walked in more than one strip
def test_the_island_beside_a_place_by_the_definition(kind, size):
    """A place of 10 x 6 texels has 3 x (10 + 6 + 10 + 6) = 96 beside it: 30 on a long side, 18 on a short one."""
    code = 257 if kind is np.uint16 else 1
    image = np.full((*size, 3), 200 * code, kind)
    image[20:30, 40:46] = 20 * code
    image[20:30, 37:40] = 32 * code  # 30 texels, 12 codes off
    image[17:20, 40:46] = 33 * code  # 18 texels, 13 codes off
    found = looked_at(image, np.zeros(size, np.int16))
    assert found.fading.tolist() == [30 / 96]
    assert found.own.tolist() == [1.0]


def test_other_islands_and_the_ground_beside_are_not_looked_at():
    image = np.full((20, 20, 1), 20, np.uint8)
    image[:, 15:] = 25
    labels = np.full((20, 20), -1, np.int16)
    labels[5:15, 5:15] = 0  # bare all over: nothing of the island is beside it
    labels[5:15, 15:] = 1
    assert looked_at(image, labels).fading.tolist() == [0.0]


def test_a_lossy_place_is_of_the_grounds_own_color_or_only_like_it():
    image = np.full((40, 40, 3), 200, np.uint8)
    image[10:20, 10:20] = 23  # 60 texels that miss it by 3, 40 by 4
    image[10:20, 16:20] = 24
    labels = np.zeros((40, 40), np.int16)
    assert looked_at(image, labels, tolerance=12).own.tolist() == [0.6]


def test_a_place_at_the_border_of_the_map():
    image = np.full((9, 9, 1), 90, np.uint8)
    image[:2, :3] = 20
    found = looked_at(image, np.zeros((9, 9), np.int16))
    assert found.fading.tolist() == [0.0]
    image[2:5, :3] = 25
    image[:2, 3:6] = 25
    assert looked_at(image, np.zeros((9, 9), np.int16)).fading.tolist() == [1.0]
