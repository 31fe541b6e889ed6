import io

import numpy as np
import pytest
from PIL import Image

from tests.pixels.scenes import halved
from tests.pixels.synthetic import TEXTURES, texture
from tidegate.pixels.same_picture import CELLS, same_picture, signature


def answer(a, b):
    return same_picture(signature(a), signature(b))


@pytest.mark.parametrize("kind", TEXTURES)
def test_the_same_at_half_and_quarter_size_and_another_of_its_kind(kind):
    rng = np.random.default_rng(7)
    one, other = texture(kind, rng, 512, 512), texture(kind, rng, 512, 512)
    assert answer(one, one.copy()) == "same"
    assert answer(one, halved(one)) == "same"
    assert answer(halved(halved(one)), one) == "same"
    assert answer(one, other) == "different"
    assert answer(one, one[::-1]) == "different"
    assert answer(one, np.rot90(one)) == "different"


def test_grey_of_the_same_and_lossy_noise():
    rng = np.random.default_rng(8)
    grey = texture("spectrum", rng, 300, 300)[..., 0]
    assert answer(grey, np.stack([grey] * 3, axis=2)) == "same"
    assert answer(grey, np.stack([grey, grey, grey, 255 - grey], axis=2)) == "same"  # alpha is left out
    noisy = np.clip(grey.astype(int) + rng.integers(-3, 4, grey.shape), 0, 255).astype(np.uint8)
    assert answer(grey, noisy) == "same"
    assert answer(grey, grey.astype(np.uint16) * 257) == "same"
    assert answer(grey, 255 - grey) == "different"


def test_two_noises_on_one_layout_are_two_pictures():
    rng = np.random.default_rng(9)
    one, other = texture("noisy", rng, 1024, 1024), texture("noisy", rng, 1024, 1024)
    for image in (one, other):
        image[:200] = image[:, 700:] = 0
    assert answer(one, other) == "different"


def test_plain_pictures_cannot_be_told():
    black = np.zeros((128, 128, 3), np.uint8)
    assert answer(black, black) == "cannot tell"
    assert answer(black, texture("smooth", np.random.default_rng(0), 128, 128)) == "cannot tell"
    flat = np.full((128, 128, 3), (128, 128, 255), np.uint8)
    flat[0, 0] = (120, 120, 255)
    assert answer(flat, flat) == "cannot tell"


def test_a_picture_repainted_in_one_corner_is_still_told_apart():
    one = texture("spectrum", np.random.default_rng(1), 256, 256)
    other = one.copy()
    other[:128, :128] = texture("spectrum", np.random.default_rng(2), 128, 128)
    assert answer(one, other) == "different"


def test_cells_are_means_by_area():
    image = np.random.default_rng(3).integers(0, 256, (384, 640, 3)).astype(np.uint8)  # a cell is 1.5 x 2.5 texels
    found = signature(image)
    fine = np.kron(image, np.ones((2, 2, 1)))  # 3 x 5 whole quarters of texels
    want = fine.reshape(CELLS, 3, CELLS, 5, 3).mean(axis=(1, 3))
    assert np.abs(found.cells - want).max() < 1e-3
    assert found.size == (640, 384)
    assert (signature(np.full((3, 5), 9, np.uint8)).cells == 9).all()  # smaller than the grid


def test_two_masks_of_different_islands_are_two_pictures():
    """Black but for an island of a fortieth of the map: 39 of 40 cells are alike, and none that says anything."""
    one, other = np.zeros((2, 256, 256), np.uint8)
    one[:40, :40] = other[100:140, :40] = 255
    assert same_picture(signature(one), signature(other)) == "different"
    assert same_picture(signature(one), signature(one)) == "same"
    assert same_picture(signature(one), signature(halved(one[:, :, None]))) == "same"


@pytest.mark.parametrize("quality", [70, 92])
@pytest.mark.parametrize("kind", TEXTURES)
def test_a_jpeg_and_what_it_was_packed_from_are_one_picture(kind, quality):
    """With chroma halved a JPEG keeps hardly a texel of noise, but the means of its blocks of 8 x 8 (ITU-T T.81, A.3.4)."""
    rng = np.random.default_rng(12)
    image, other = texture(kind, rng, 256, 256), texture(kind, rng, 256, 256)
    for one in (image, other):
        one[:60] = one[:, 180:] = (250, 0, 255)
    stream = io.BytesIO()
    Image.fromarray(image).save(stream, "JPEG", quality=quality, subsampling=2)
    packed = signature(np.asarray(Image.open(stream)), lossy=True)
    assert same_picture(packed, signature(image)) == "same"
    assert same_picture(signature(image), packed) == "same"
    assert same_picture(packed, signature(other)) == "different"
    assert same_picture(packed, signature(image[:, ::-1])) == "different"
    assert same_picture(packed, signature(np.ascontiguousarray(image[:, :, ::-1]))) == "different"
