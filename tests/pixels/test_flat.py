import numpy as np
import pytest

from tests.pixels.synthetic import TEXTURES, texture
from tidegate.pixels.flat import flatness


def solid(color, kind=np.uint8):
    return np.full((40, 30, len(color)), color, kind)


@pytest.mark.parametrize(
    ("image", "alpha", "said"),
    [
        (solid((0, 0, 0)), False, "fully black"),
        (solid((255, 255, 255)), False, "fully white"),
        (solid((65535,) * 3, np.uint16), False, "fully white"),
        (solid((255,) * 3, np.uint16), False, "one flat colour"),  # 255 is not white in 16 bits
        (solid((10, 20, 30)), False, "one flat colour"),
        (solid((0,)), False, "fully black"),
        (solid((0, 0, 0, 255)), True, "fully black"),
        (solid((9, 8, 7, 0)), True, "fully transparent"),
        (solid((0, 0, 0, 0)), False, "fully black"),  # four data channels, none of them alpha
        (solid((128, 255)), True, "one flat colour"),
    ],
)
def test_says_what_it_looks_like(image, alpha, said):
    assert flatness(image, alpha).looks_unsaved == said


def test_one_texel_in_a_million_is_enough_to_be_saved():
    image = solid((0, 0, 0))
    image[39, 29] = (0, 0, 1)
    found = flatness(image, False)
    assert found.looks_unsaved == ""
    assert (found.low, found.high) == ((0, 0, 0), (0, 0, 1))
    assert found.common == (0, 0, 0)
    assert found.common_share == 1199 / 1200
    assert flatness(image, False, flat_share=1199 / 1200).looks_unsaved == "one flat colour"
    assert flatness(image, False, flat_share=0.9995).looks_unsaved == ""


def test_paint_under_varying_alpha_is_no_flat_map():
    image = solid((5, 5, 5, 0))
    image[0, 0, 3] = 1
    assert flatness(image, True).looks_unsaved == "one flat colour"  # colour is flat, alpha is not colour
    image[0, 0, 0] = 6
    assert flatness(image, True).looks_unsaved == ""


@pytest.mark.parametrize("kind", TEXTURES)
def test_paintings_are_not_flat(kind):
    assert flatness(texture(kind, np.random.default_rng(2), 64, 64), False).looks_unsaved == ""


def test_smallest_map_and_none():
    assert flatness(np.full((1, 1, 3), 7, np.uint8), False).looks_unsaved == "one flat colour"
    with pytest.raises(ValueError, match="no texels"):
        flatness(np.zeros((0, 4, 3), np.uint8), False)
