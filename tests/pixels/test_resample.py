import numpy as np
import pytest
from scipy.ndimage import map_coordinates

from tidegate.pixels.resample import at_points, eight_bit, reduced


def test_sixteen_bits_round_to_nearest():
    codes = np.arange(65536, dtype=np.uint16)
    assert (eight_bit(codes) == np.rint(codes / 257)).all()
    same = np.zeros((2, 2), np.uint8)
    assert eight_bit(same) is same


def test_box_mean_by_a_whole_factor():
    image = np.random.default_rng(0).integers(0, 256, (12, 20, 3)).astype(np.uint8)
    want = image.reshape(3, 4, 5, 4, 3).mean(axis=(1, 3))
    assert (np.abs(reduced(image, 3, 5).astype(float) - want) <= 0.5).all()
    assert (reduced(image, 12, 20) == image).all()


def test_an_odd_factor_keeps_a_ramp_a_ramp():
    ramp = np.repeat(np.arange(0, 240, 2, dtype=np.uint8)[None], 90, axis=0)[..., None]  # 90 x 120
    small = reduced(ramp, 60, 80)[..., 0].astype(float)
    # Texel i of 80 has its centre at (i + 0.5) x 1.5 texels, where the ramp is 2 x that - 1.
    want = 3.0 * np.arange(80) + 0.5
    assert np.abs(small - want)[:, 1:-1].max() <= 1.0


def test_bilinear_agrees_with_scipy_inside_and_wraps_outside():
    rng = np.random.default_rng(1)
    image = rng.integers(0, 65536, (9, 11, 2)).astype(np.uint16)
    x, y = rng.uniform(0.5, 10.5, 200), rng.uniform(0.5, 8.5, 200)
    ours = at_points(image, x, y)
    for c in range(2):
        want = map_coordinates(image[..., c].astype(float), [y - 0.5, x - 0.5], order=1) / 65535
        assert ours[:, c] == pytest.approx(want, abs=1e-9)
    assert at_points(image, x + 22, y - 9) == pytest.approx(ours, abs=1e-9)
    corner = at_points(image, np.array([-5.0]), np.array([-5.0]), repeat=False)
    assert corner[0].tolist() == (image[0, 0] / 65535).tolist()


def test_a_texel_centre_reads_that_texel():
    image = np.array([[0, 255], [51, 102]], np.uint8)
    at = at_points(image, np.array([0.5, 1.5, 1.0]), np.array([0.5, 1.5, 0.5]))
    assert at[:, 0].tolist() == [0.0, 0.4, 0.5]


def test_nothing_is_made_larger():
    with pytest.raises(ValueError, match="cannot reduce"):
        reduced(np.zeros((4, 4), np.uint8), 5, 4)
