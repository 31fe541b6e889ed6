"""Albedo, metalness, roughness and height: what single codes say, from counts."""

import numpy as np
import pytest

from tidegate.pixels.albedo import albedo_range
from tidegate.pixels.color_space import LUMINANCE, decode
from tidegate.pixels.height_codes import height_codes
from tidegate.pixels.histogram import code_at_share, histogram
from tidegate.pixels.metalness import metalness_use
from tidegate.pixels.roughness import roughness_use


def counts_of(values, codes=256):
    return np.bincount(np.asarray(values).reshape(-1), minlength=codes)


def test_histogram_of_a_part():
    rng = np.random.default_rng(1)
    channel = rng.integers(0, 65536, (300, 500)).astype(np.uint16)
    inside = rng.random(channel.shape) < 0.3
    assert (histogram(channel) == counts_of(channel, 65536)).all()
    assert (histogram(channel, inside) == counts_of(channel[inside], 65536)).all()
    # a channel of an interleaved picture is a strided view
    image = rng.integers(0, 256, (300, 500, 3)).astype(np.uint8)
    assert (histogram(image[..., 1]) == counts_of(image[..., 1])).all()


def test_code_at_share():
    counts = counts_of([3, 3, 3, 9])
    assert [code_at_share(counts, s) for s in (0.0, 0.5, 0.75, 0.76, 1.0)] == [3, 3, 3, 9, 9]
    assert code_at_share(np.zeros(256, int), 0.5) == 0


@pytest.mark.parametrize("code", [29, 30, 31, 128, 239, 240, 241])
def test_grey_albedo_on_both_sides_of_both_limits(code):
    found = albedo_range(np.full((4, 4, 3), code, np.uint8))
    assert (found.dark, found.bright) == (float(code < 30), float(code > 240))
    one = albedo_range(np.full((4, 4), code, np.uint8))
    assert (one.dark, one.bright) == (found.dark, found.bright)


def test_albedo_is_luminance_of_linear_light_inside_the_islands():
    rng = np.random.default_rng(4)
    image = rng.integers(0, 256, (80, 90, 4)).astype(np.uint8)
    inside = rng.random((80, 90)) < 0.6
    linear = decode(image[..., :3] / 255) @ LUMINANCE  # an independent way: no tables
    low, high = float(decode(50 / 255)), float(decode(180 / 255))
    found = albedo_range(image, inside, 50, 180)
    assert found.texels == inside.sum()
    assert found.dark == pytest.approx((linear < low)[inside].mean(), abs=1e-4)
    assert found.bright == pytest.approx((linear > high)[inside].mean(), abs=1e-4)


def test_a_saturated_blue_is_dark_by_luminance_not_by_its_highest_channel():
    # 0.0722 x decode(100/255) = 0.0722 x 0.1274 = 0.0092, below decode(30/255) = 0.0130
    assert albedo_range(np.full((2, 2, 3), (0, 0, 100), np.uint8)).dark == 1.0


def test_nothing_inside_is_no_albedo():
    assert albedo_range(np.zeros((4, 4, 3), np.uint8), np.zeros((4, 4), bool)).texels == 0


def test_metalness_between():
    # limits 0.1 and 0.9 are 25.5 and 229.5 in 8 bits: 25 is none, 26 between, 229 between, 230 metal
    found = metalness_use(counts_of([0, 25, 26, 229, 230, 255, 255, 255]))
    assert (found.none, found.between, found.metal) == (0.25, 0.25, 0.5)
    assert metalness_use(np.zeros(256, int)).between == 0.0
    sixteen = metalness_use(counts_of([0, 32768, 65535, 65535], 65536))
    assert sixteen.between == 0.25


def test_roughness_constant_and_varying():
    assert roughness_use(counts_of([128] * 1000)).constant
    assert roughness_use(counts_of([128, 129] * 500)).constant  # one 8-bit step
    assert not roughness_use(counts_of([128, 130] * 500)).constant
    # four texels in a thousand are left aside, six are not
    assert roughness_use(counts_of([128] * 996 + [255] * 4)).constant
    assert not roughness_use(counts_of([128] * 994 + [255] * 6)).constant


def test_roughness_clipped_is_a_pile_not_a_tail():
    smooth = np.clip(np.random.default_rng(0).normal(128, 30, 100_000), 0, 255)
    assert roughness_use(counts_of(smooth.astype(int))).piled_up < 0.001
    cut = np.clip(np.random.default_rng(0).normal(250, 30, 100_000), 0, 255)
    found = roughness_use(counts_of(cut.astype(int)))
    assert found.at_one == pytest.approx(0.434, abs=0.01)  # P(z > 5/30) = 0.434
    assert found.piled_up > 0.15


@pytest.mark.parametrize(
    ("codes", "depth", "distinct", "step", "inside"),
    [
        ([0, 257, 514, 65535], 65536, 4, 257, True),  # 8 bits stretched by 257
        ([0, 256, 512, 65280], 65536, 4, 256, True),  # 8 bits shifted by 8
        ([0, 257, 515], 65536, 3, 1, False),
        ([0, 65535], 65536, 2, 65535, False),  # too few to say
        ([3, 5, 9], 256, 3, 2, False),
        ([7], 256, 1, 0, False),
        ([], 256, 0, 0, False),
    ],
)
def test_height_codes(codes, depth, distinct, step, inside):
    found = height_codes(counts_of(np.array(codes, int), depth))
    assert (found.distinct, found.step, found.eight_bit_inside) == (distinct, step, inside)
