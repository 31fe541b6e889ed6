import numpy as np
import pytest
from PIL import Image

from tests.pixels.synthetic import TEXTURES, texture
from tidegate.pixels.color_space import decode, encode
from tidegate.pixels.master import compare_master
from tidegate.pixels.reductions import REDUCTIONS, in_light, picked, picked_first, softly

BY_PILLOW = ("NEAREST", "BOX", "BILINEAR", "HAMMING", "BICUBIC", "LANCZOS")


def shrunk(image, how, factor):
    """Made smaller by means that are not ours."""
    height, width = image.shape[0] // factor, image.shape[1] // factor
    if how == "first":
        return image[::factor, ::factor].copy()
    if how == "light":
        light = decode(image / 255).reshape(height, factor, width, factor, -1).mean(axis=(1, 3))
        return np.rint(encode(light) * 255).astype(np.uint8)
    return np.asarray(Image.fromarray(image).resize((width, height), Image.Resampling[how]))


@pytest.mark.parametrize("size", [(40, 60), (60, 90), (33, 47)])
def test_the_soft_filter_is_pillows_bilinear(size):
    image = texture("noisy", np.random.default_rng(1), 120, 180)
    want = np.asarray(Image.fromarray(image).resize(size[::-1], Image.Resampling.BILINEAR)).astype(int)
    assert np.abs(softly(image, *size) - want).max() <= 1  # Pillow rounds after each direction


def test_means_of_light_of_black_and_white():
    """Half of the light is code 188 of sRGB: 255 x (1.055 x 0.5^(1/2.4) - 0.055) = 187.5. Alpha is a plain mean: 128."""
    image = np.zeros((2, 2, 4), np.uint8)
    image[:, 1] = 255
    assert in_light(image, 1, 1).tolist() == [[[188, 188, 188, 128]]]
    deep = image.astype(np.uint16) * 257
    assert np.abs(in_light(deep, 1, 1)[0, 0] / 257 - (187.52, 187.52, 187.52, 127.5)).max() < 0.02


def test_means_of_light_over_many_strips_and_by_an_odd_factor():
    image = texture("noisy", np.random.default_rng(2), 600, 900)
    assert np.abs(in_light(image, 200, 300).astype(int) - shrunk(image, "light", 3)).max() <= 1
    plain = np.full((600, 900, 1), 77, np.uint8)
    assert (in_light(plain, 400, 600) == 77).all()


def test_which_texel_is_picked():
    image = np.arange(16, dtype=np.uint8).reshape(4, 4)
    assert picked(image, 2, 2)[..., 0].tolist() == [[5, 7], [13, 15]]
    assert picked_first(image, 2, 2)[..., 0].tolist() == [[0, 2], [8, 10]]


@pytest.mark.parametrize("way", REDUCTIONS)
@pytest.mark.parametrize("dtype", [np.uint8, np.uint16])
def test_a_plain_picture_stays_plain(way, dtype):
    code = 201 if dtype == np.uint8 else 201 * 257
    found = way(np.full((12, 18, 3), code, dtype), 4, 6)
    assert found.dtype == dtype
    assert np.abs(found.astype(int) - code).max() <= (2 if dtype == np.uint16 else 0)  # light has 65,536 codes too


@pytest.mark.parametrize("how", ["first", "light", *BY_PILLOW])
@pytest.mark.parametrize("factor", [2, 4])
@pytest.mark.parametrize("kind", TEXTURES)
def test_a_small_copy_made_in_any_usual_way_is_no_change_and_a_repainted_place_is_one(kind, factor, how):
    """Paint on a hard ground, where ways of reducing differ most. 24 x 24 texels of 288 x 192 are repainted: 1 %."""
    master = texture(kind, np.random.default_rng(5), 192, 288)
    master[:60] = (255, 5, 250)
    flat = shrunk(master, how, factor)
    assert compare_master(master, flat).differing <= 0.001
    master[100:124, 40:64] = 255 - master[100:124, 40:64]
    told = compare_master(master, flat)
    assert told.differing > 0.001
    x0, y0, x1, y1 = (side * factor for side in told.boxes[0])
    assert x0 < 64 and x1 > 40 and y0 < 124 and y1 > 100
