import numpy as np
import pytest

from tests.pixels.scenes import painted
from tests.pixels.synthetic import TEXTURES
from tidegate.pixels.border_bands import border_bands
from tidegate.pixels.fit import AS_IT_IS, CHANGES, fit


def lopsided(height=128, width=128):
    """Three islands in a position that no turn, flip or shift repeats."""
    labels = np.full((height, width), -1, np.int32)
    h, w = height // 16, width // 16
    labels[h : 9 * h, w : 3 * w] = 0
    labels[h : 3 * h, 5 * w : 9 * w] = 1
    labels[11 * h : 14 * h, 2 * w : 13 * w] = 2
    image = np.zeros((height, width, 3), np.uint8)
    rng = np.random.default_rng(1)
    image[labels >= 0] = rng.integers(50, 250, (int((labels >= 0).sum()), 3))
    return labels, image, border_bands(labels, 3, 6)


def test_a_right_map_fits():
    _, image, bands = lopsided()
    found = fit(image, bands)
    assert found.verdict == "fits"
    assert found.own.covered == 1.0
    assert found.own.spilled == 0.0
    assert found.ground == (0, 0, 0)


@pytest.mark.parametrize("change", [name for name in CHANGES if name != AS_IT_IS])
@pytest.mark.parametrize("size", [(128, 128), (64, 128)])
def test_the_turn_or_flip_done_to_the_map_is_named(change, size):
    _, image, bands = lopsided(*size)
    turned = np.ascontiguousarray(CHANGES[change](image.transpose(2, 0, 1)[0])[..., None].repeat(3, 2))
    if turned.shape[:2] != size:  # a quarter turn of an oblong map, saved again in the old shape
        rows = (np.arange(size[0]) * turned.shape[0] // size[0])[:, None]
        turned = turned[rows, (np.arange(size[1]) * turned.shape[1] // size[1])[None]]
    found = fit(turned, bands)
    assert found.verdict == "turned"
    assert found.best.change == change
    assert found.best.shift == (0.0, 0.0)


def test_clockwise_is_clockwise_on_the_screen():
    mark = np.array([[1, 0], [0, 0]])  # upper left
    assert CHANGES["turned 90 degrees clockwise"](mark).tolist() == [[0, 1], [0, 0]]  # upper right
    assert CHANGES["mirrored left to right"](mark).tolist() == [[0, 1], [0, 0]]
    assert CHANGES["mirrored along the falling diagonal"](np.array([[0, 1], [0, 0]])).tolist() == [[0, 0], [1, 0]]
    assert CHANGES["mirrored along the rising diagonal"](mark).tolist() == [[0, 0], [0, 1]]


@pytest.mark.parametrize(("right", "down"), [(32, 0), (0, -20), (64, 64), (-9, 5)])
def test_a_moved_map_is_named_with_its_shift(right, down):
    _, image, bands = lopsided()
    found = fit(np.roll(image, (down, right), (0, 1)), bands)
    assert found.verdict == "moved"
    assert abs(abs(found.best.shift[0] * 128) - abs(right)) <= 1
    assert found.best.shift[1] * 128 % 128 == pytest.approx(down % 128, abs=1)


def test_another_layout_is_named_when_it_is_at_hand():
    labels, image, bands = lopsided()
    other = np.full_like(labels, -1)
    other[20:60, 60:120] = 0
    other[70:120, 70:80] = 1
    theirs = border_bands(other, 2, 6)
    found = fit(image, theirs, {"net_float": bands})
    assert (found.verdict, found.best.layout) == ("another layout", "net_float")
    assert fit(image, bands, {"net_float": theirs}).verdict == "fits"


def test_cannot_tell_where_paint_fills_the_tile_or_islands_do():
    labels, image, bands = lopsided()
    filled = np.random.default_rng(0).integers(0, 256, image.shape).astype(np.uint8)
    found = fit(filled, bands)
    assert found.verdict == "cannot tell"
    assert "fills its tile" in found.reason
    full = border_bands(np.zeros_like(labels), 1, 6)
    found = fit(image, full)
    assert (found.verdict, found.own) == ("cannot tell", None)
    assert fit(np.zeros_like(image), bands).verdict == "cannot tell"  # nothing is painted at all


def test_flat_colours_spread_over_the_whole_tile_are_no_strangers():
    # Two colours, each carried on to the middle between the islands: whichever is taken for the ground, nothing is certain.
    _, _, bands = lopsided()
    x = np.mgrid[:128, :128][1]
    image = np.where((x > 56)[..., None], (90, 80, 70), (40, 60, 50)).astype(np.uint8)
    assert fit(image, bands).verdict == "cannot tell"


@pytest.mark.parametrize("kind", TEXTURES)
def test_clean_props_of_every_kind_fit(kind):
    for seed in range(6):
        scene = painted(np.random.default_rng([seed, TEXTURES.index(kind)]), kind=kind)
        assert fit(scene.image, scene.bands(8)).verdict == "fits"


def test_a_whole_island_left_bare_is_not_called_a_turn():
    labels, image, bands = lopsided()
    image[labels == 1] = 0
    assert fit(image, bands).verdict == "fits"


@pytest.mark.parametrize(("other", "verdict"), [(20, "moved"), (60, "cannot tell")])
def test_a_few_islands_find_a_place_on_much_paint_by_chance(other, verdict):
    """16 x 16 texels of islands; the map's only paint is a square of `other`, which would hold them if they were moved. Grown by
    8 texels of 128, which is 16 samples of 256, they reach over 32 x 32: all of a square of 20; of 60 x 60 hardly a third."""
    labels = np.full((128, 128), -1, np.int32)
    labels[8:24, 100:116] = 0
    image = np.full((128, 128, 3), 255, np.uint8)
    image[60 : 60 + other, 20 : 20 + other] = np.random.default_rng(1).integers(50, 200, (other, other, 3))
    found = fit(image, border_bands(labels, 1, 6))
    assert found.verdict == verdict
    assert found.best.covered == 1.0 and found.own.covered == 0.0


@pytest.mark.parametrize(
    ("on", "far", "verdict"),
    [
        # Islands of 40 x 120 texels. A column of `far` is 64 texels, 1 of 152 of what lies 8 texels and more from the islands.
        # With so much ground what lies far has to be a quarter of what covers, and a tenth at least.
        (0, 16, "another layout"),  # 16 of 152 are .1053
        (0, 15, "cannot tell"),  # .0987
        (16, 16, "another layout"),  # 16 of 40 columns are .4; 16 of 152 are .1053
        (16, 15, "cannot tell"),  # .0987
        (36, 23, "fits"),  # .9 of the islands
    ],
)
def test_paint_that_has_little_to_do_with_the_islands(on, far, verdict):
    """Islands on the left, `on` columns of them painted; and `far` columns of 64 texels each, 20 texels off."""
    labels = np.full((128, 128), -1, np.int32)
    labels[4:124, 4:44] = 0
    rng = np.random.default_rng(3)
    image = np.full((128, 128, 3), 255, np.uint8)
    image[4:124, 44 - on : 44] = rng.integers(50, 200, (120, on, 3))
    image[32:96, 64 : 64 + far] = rng.integers(50, 200, (64, far, 3))
    found = fit(image, border_bands(labels, 1, 6))
    assert found.verdict == verdict


@pytest.mark.parametrize(
    ("columns", "plain", "verdict"),
    [
        # With 24 columns white is 103 of 128, a fiftieth of that 264 texels; of the border 2 x 25 + 2 x 128 of 512 are painted.
        (24, 0, "another layout"),  # .598 of the border
        (25, 0, "cannot tell"),  # .602
        (24, 16 * 16, "another layout"),
        (24, 16 * 17, "cannot tell"),
    ],
)
def test_ground_where_paint_touches_the_border(columns, plain, verdict):
    """A bare island on the left; paint on the last columns and in the first one, `plain` texels of it one colour."""
    labels = np.full((128, 128), -1, np.int32)
    labels[4:124, 4:44] = 0
    rng = np.random.default_rng(3)
    image = np.full((128, 128, 3), 255, np.uint8)
    image[:, 128 - columns :] = rng.integers(50, 200, (128, columns, 3))
    image[:, 0] = rng.integers(50, 200, (128, 3))
    image[40 : 40 + plain // 16, 108:124] = 10
    found = fit(image, border_bands(labels, 1, 6))
    assert found.verdict == verdict
