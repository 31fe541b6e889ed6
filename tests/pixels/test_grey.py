import numpy as np

from tidegate.pixels.grey import greyness


def test_three_equal_channels():
    grey = np.random.default_rng(0).integers(0, 256, (50, 60)).astype(np.uint8)
    found = greyness(np.stack([grey] * 3, axis=2))
    assert (found.equal, found.colored, found.widest, found.box) == (True, 0.0, 0, None)
    # alpha is no colour
    assert greyness(np.stack([grey, grey, grey, 255 - grey], axis=2)).equal


def test_both_sides_of_the_tolerance_with_the_box():
    image = np.full((50, 60, 3), 100, np.uint8)
    image[10:12, 20:25] = (100, 104, 98)  # 6 apart
    found = greyness(image, tolerance=5)
    assert (found.equal, found.widest, found.box) == (False, 6, (20, 10, 25, 12))
    assert found.colored == 10 / 3000
    found = greyness(image, tolerance=6)
    assert (found.equal, found.colored, found.widest, found.box) == (False, 0.0, 6, None)


def test_one_channel_has_no_colour():
    assert greyness(np.zeros((4, 4), np.uint8)) is None
    assert greyness(np.zeros((4, 4, 2), np.uint8)) is None


def test_a_difference_low_in_a_large_map_is_seen():
    image = np.zeros((700, 400, 3), np.uint16)
    image[699, 399, 2] = 1
    assert greyness(image).box == (399, 699, 400, 700)
