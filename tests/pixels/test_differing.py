import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tidegate.pixels.differing import differing


@settings(max_examples=60, deadline=None)
@given(st.integers(0, 10**6), st.integers(0, 300), st.sampled_from([np.uint8, np.uint16]), st.integers(1, 4))
def test_agrees_with_plain_arithmetic(seed, tolerance, kind, channels):
    rng = np.random.default_rng(seed)
    top = np.iinfo(kind).max
    image = rng.integers(0, top + 1, (9, 13, channels)).astype(kind)
    image[:4] = rng.integers(0, 4, (4, 13, channels))
    image[4:6] = top - rng.integers(0, 4, (2, 13, channels))
    for color in ([0] * channels, [int(top)] * channels, [int(v) for v in image[7, 7]]):
        want = (np.abs(image.astype(int) - color) > tolerance).any(axis=2)
        assert (differing(image, color, tolerance) == want).all()


def test_grey_without_a_channel_axis_and_a_colour_of_another_kind():
    image = np.array([[0, 1], [2, 0]], np.uint8)
    assert differing(image, (0,)).tolist() == [[False, True], [True, False]]
    with pytest.raises(ValueError, match="channels"):
        differing(image, (0, 0, 0))


@pytest.mark.parametrize("image", [np.zeros((2, 2), np.float32), np.zeros((2, 2, 5), np.uint8), np.zeros(4, np.uint8)])
def test_what_is_no_image_is_refused(image):
    with pytest.raises(ValueError, match="image"):
        differing(image, (0,))


@pytest.mark.parametrize("channels", [1, 2, 3, 4])
@pytest.mark.parametrize("shape", [(1, 1), (1, 5), (7, 3)])
@pytest.mark.parametrize("kind", [np.uint8, np.uint16])
def test_every_texel_and_channel_is_compared_also_the_last(channels, shape, kind):
    rng = np.random.default_rng(2)
    plain = np.full((*shape, channels), (9, 250, 0, 255)[:channels], kind)
    assert not differing(plain, plain[0, 0].tolist()).any()
    for at in np.ndindex(plain.shape):
        other = plain.copy()
        other[at] ^= kind(1 + rng.integers(0, 200))
        found = differing(other, plain[0, 0].tolist())
        assert (found == (other != plain).any(axis=2)).all() and found.sum() == 1
    turned = np.repeat(plain, 2, axis=1)[:, ::2]  # not stored in one piece
    turned[-1, -1, -1] ^= kind(1)
    assert differing(turned, plain[0, 0].tolist()).sum() == 1
