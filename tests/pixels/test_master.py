import io

import numpy as np
import pytest
from PIL import Image

from tests.pixels.synthetic import TEXTURES, texture
from tidegate.pixels.master import compare_master


def picture(seed=0, kind="spectrum", size=(96, 128)):
    return texture(kind, np.random.default_rng(seed), *size)


def wire_of(shape):
    wire = np.zeros(shape, bool)
    wire[10::20] = wire[:, 15::30] = True
    return wire


def test_equal_is_equal_and_rounding_is_forgiven_but_no_more():
    flat = picture() // 2 + 50
    found = compare_master(flat.copy(), flat)
    assert (found.comparable, found.differing, found.largest, found.boxes) == (True, 0.0, 0, ())
    assert compare_master(flat + np.uint8(2), flat).differing == 0.0
    three = compare_master(flat - np.uint8(3), flat)
    assert (three.differing, three.largest) == (1.0, 3)
    assert compare_master(flat - np.uint8(3), flat, tolerance=3).differing == 0.0


def test_a_repainted_place_is_boxed_to_the_texel_the_largest_first():
    flat = picture()
    merged = flat.copy()
    merged[20:34, 50:77] = 255 - merged[20:34, 50:77] // 2
    merged[80:83, 5:9] = 0
    found = compare_master(merged, flat)
    assert found.boxes == ((50, 20, 77, 34), (5, 80, 9, 83))
    assert found.box_texels == (14 * 27, 12)
    assert found.differing == (14 * 27 + 12) / flat[..., 0].size
    assert not found.guide_visible


@pytest.mark.parametrize("kind", TEXTURES)
@pytest.mark.parametrize("method", [Image.Resampling.BOX, Image.Resampling.BICUBIC, Image.Resampling.BILINEAR])
def test_a_map_exported_at_half_size_is_the_same_and_a_change_in_it_is_found(kind, method):
    master = picture(3, kind, (192, 256))
    flat = np.asarray(Image.fromarray(master).resize((128, 96), method))
    found = compare_master(master, flat)
    assert found.scaled
    assert found.size == (128, 96)
    assert found.differing < 0.02, (kind, method, found.differing)
    changed = master.copy()
    changed[40:100, 60:140] = np.roll(changed, 90, axis=1)[40:100, 60:140] // 2
    other = compare_master(changed, flat)
    assert other.differing > found.differing + 0.07
    x0, _, _, y1 = other.boxes[0]
    assert abs(x0 - 30) <= 8  # 60 / 2
    assert abs(y1 - 50) <= 8  # 100 / 2


def test_a_master_smaller_than_its_map_and_a_size_of_another_shape():
    flat = picture(4, "smooth", (192, 256))
    small = np.asarray(Image.fromarray(flat).resize((128, 96), Image.Resampling.BOX))
    found = compare_master(small, flat)
    assert found.differing == 0.0
    assert found.size == (128, 96)
    assert not compare_master(picture(size=(96, 96)), flat).comparable
    two_thirds = np.asarray(Image.fromarray(flat).resize((171, 128), Image.Resampling.BICUBIC))
    assert not compare_master(two_thirds, flat).comparable  # 171 x 192 is not 128 x 256: not the same shape


@pytest.mark.parametrize("strength", [1.0, 0.4])
def test_a_guide_layer_left_visible_lies_on_the_wire(strength):
    flat = picture(5)
    wire = wire_of(flat.shape[:2])
    merged = flat.copy()
    merged[wire] = (merged[wire] * (1 - strength)).astype(np.uint8)
    found = compare_master(merged, flat, wire)
    assert found.guide_visible
    assert found.on_wire > 0.95
    assert found.off_wire == 0.0
    # another change somewhere else does not make it a guide
    elsewhere = flat.copy()
    elsewhere[20:60, 20:90] //= 2
    found = compare_master(elsewhere, flat, wire)
    assert not found.guide_visible
    assert found.on_wire == pytest.approx(found.off_wire, abs=0.15)
    assert not compare_master(flat, flat, wire).guide_visible
    assert compare_master(flat, flat).on_wire is None


def test_guide_in_a_master_of_twice_the_size():
    master = picture(6, "smooth", (192, 256))
    flat = np.asarray(Image.fromarray(master).resize((128, 96), Image.Resampling.BOX))
    wire = wire_of((96, 128))
    drawn = master.copy()
    drawn[np.kron(wire, np.ones((2, 2), bool))] = 0
    assert compare_master(drawn, flat, wire).guide_visible


def test_channels_and_alpha():
    flat = picture(7)
    grey = flat[..., 0].copy()
    assert compare_master(np.stack([grey] * 3, axis=2), grey).differing == 0.0
    assert compare_master(flat, grey).differing > 0.5
    assert compare_master(flat.astype(np.uint16) * 257, flat).differing == 0.0
    # transparent parts of the master are flattened onto a colour that it does not state
    clear = np.concatenate([flat, np.full((96, 128, 1), 255, np.uint8)], axis=2)
    clear[:, :32] = 0
    found = compare_master(clear, flat)
    assert (found.differing, found.ignored) == (0.0, 0.25)
    # with alpha on both sides it is compared, and colour under full transparency is not
    both = clear.copy()
    both[:, :32, :3] = 99
    assert compare_master(clear, both).differing == 0.0
    both[:, :32, 3] = 255
    assert compare_master(clear, both).differing == 0.25


@pytest.mark.parametrize("quality", [60, 85])
@pytest.mark.parametrize("kind", TEXTURES)
def test_what_a_jpeg_loses_is_no_change(kind, quality):
    """A JPEG keeps the mean of each block of 8 x 8 but for rounding: C.5 and A.3.4 of ITU-T T.81, the first coefficient."""
    image = texture(kind, np.random.default_rng(4), 128, 192)
    image[:40] = (0, 255, 0)
    stream = io.BytesIO()
    Image.fromarray(image).save(stream, "JPEG", quality=quality, subsampling=2)
    kept = np.asarray(Image.open(stream))
    assert compare_master(image, kept, lossy=True).differing == 0.0
    assert compare_master(image, kept).differing > 0.001
    repainted = image.copy()
    repainted[64:88, 64:88] = 255 - repainted[64:88, 64:88]
    told = compare_master(repainted, kept, lossy=True)
    assert told.differing > 0.001
    x0, y0, x1, y1 = told.boxes[0]
    assert x0 < 88 and x1 > 64 and y0 < 88 and y1 > 64


@pytest.mark.parametrize(("side", "told"), [(12, True), (5, False)])
def test_a_map_that_is_nearly_all_wire_shows_no_guide(side, told):
    """A wire down the first column, and what lies beside it left out: 12 x 10 texels say something, 5 x 3 do not."""
    image = np.full((side, side, 3), 128, np.uint8)
    wire = np.zeros((side, side), bool)
    wire[:, 0] = True
    drawn = image.copy()
    drawn[wire] = 0
    assert compare_master(drawn, image, wire).guide_visible == told


@pytest.mark.parametrize(("step", "told"), [(9, False), (10, True)])
def test_both_sides_of_what_a_reduced_master_may_be_off(step, told):
    """Plain pictures: .18 of the contrast between the two is taken off, so 9 codes count as 7.38, 10 as 8.2; 7 are forgiven."""
    flat = np.full((64, 64, 3), 100, np.uint8)
    merged = np.full((128, 128, 3), 100, np.uint8)
    merged[40:88, 40:88] += np.uint8(step)
    assert (compare_master(merged, flat).differing > 0.05) == told
