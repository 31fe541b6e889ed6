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
