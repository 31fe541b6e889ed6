import numpy as np

from tidegate.pixels.alpha_use import alpha_use


def with_alpha(alpha):
    image = np.zeros((*alpha.shape, 4), np.uint8)
    image[..., 3] = alpha
    return image


def test_one_value_is_unused_whatever_it_is():
    for value in (255, 0, 77):
        assert alpha_use(with_alpha(np.full((4, 4), value))).unused


def test_shares_of_a_cut_out_and_of_glass():
    alpha = np.full((4, 5), 255)
    alpha[0] = 0
    found = alpha_use(with_alpha(alpha))
    assert (found.unused, found.opaque, found.clear, found.partial) == (False, 0.75, 0.25, 0.0)
    alpha[1, 0] = 254
    found = alpha_use(with_alpha(alpha))
    assert round(found.partial, 9) == 0.05
    assert (found.low, found.high) == (0, 255)


def test_without_an_alpha_channel_there_is_nothing_to_say():
    assert alpha_use(np.zeros((3, 3, 3), np.uint8)) is None
    assert alpha_use(np.zeros((3, 3), np.uint8)) is None
    assert alpha_use(np.full((3, 3, 2), 65535, np.uint16)).opaque == 1.0
