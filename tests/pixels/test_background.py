import numpy as np
import pytest

from tests.pixels.synthetic import TEXTURES, layout, raster, texture
from tidegate.pixels.background import background
from tidegate.pixels.border_bands import border_bands


def one_island(size=64, depth=8):
    labels = np.full((size, size), -1, np.int32)
    labels[20:40, 20:40] = 0
    return labels, border_bands(labels, 1, depth)


def test_the_most_common_far_colour_not_the_most_common_one():
    _, bands = one_island()
    image = np.full((64, 64, 3), (9, 9, 9), np.uint8)
    image[bands.band < 255] = (200, 10, 10)
    found = background(image, bands)
    assert found.color == (9, 9, 9)
    assert found.share == 1.0
    assert found.far_texels == (bands.band == 255).sum()
    assert found.beyond == 8


@pytest.mark.parametrize(("share", "there"), [(0.22, True), (0.18, False)])
def test_both_sides_of_the_least_share(share, there):
    _, bands = one_island()
    rng = np.random.default_rng(3)
    image = rng.integers(1, 256, (64, 64, 3)).astype(np.uint8)
    far = np.flatnonzero(bands.band.reshape(-1) == 255)
    image.reshape(-1, 3)[rng.permutation(far)[: round(share * len(far))]] = 0
    found = background(image, bands)
    assert (found is not None) == there
    if there:
        assert found.color == (0, 0, 0)
        assert found.share == pytest.approx(0.22, abs=0.01)


def test_none_where_islands_fill_the_map_and_where_paint_goes_on_everywhere():
    full = border_bands(np.zeros((64, 64), np.int32), 1, 8)
    assert background(np.zeros((64, 64, 3), np.uint8), full) is None
    _, bands = one_island()
    for kind in ("smooth", "noisy", "spectrum"):
        image = texture(kind, np.random.default_rng(1), 64, 64)
        assert background(image, bands) is None, kind


def test_a_tight_layout_takes_the_texels_furthest_off():
    labels = np.full((64, 64), -1, np.int32)
    labels[:, :28], labels[:, 36:] = 0, 1  # a gap of eight, all within depth 20
    bands = border_bands(labels, 2, 20)
    image = np.full((64, 64), 50, np.uint8)
    image[:, 31:33] = 7
    found = background(image, bands)
    assert found.color == (7,)
    assert found.beyond == 3  # band 4 holds columns 31 and 32


def test_tolerance_gathers_a_lossy_ground():
    _, bands = one_island()
    image = np.random.default_rng(0).integers(0, 4, (64, 64, 3)).astype(np.uint8)
    image[20:40, 20:40] = 99
    assert background(image, bands) is None  # 64 colours, none at 20 %
    found = background(image, bands, tolerance=3)
    assert found is not None
    assert found.share == 1.0


def test_sixteen_bits_and_transparency_count():
    _, bands = one_island()
    image = np.zeros((64, 64, 4), np.uint16)
    image[bands.band == 255] = (65535, 1, 0, 300)
    assert background(image, bands).color == (65535, 1, 0, 300)


def test_finds_the_ground_under_every_kind_of_painting():
    rng = np.random.default_rng(5)
    for kind in TEXTURES:
        polygons = layout(rng, 160, 200, 6)
        labels = raster(polygons, 160, 200)
        bands = border_bands(labels, len(polygons), 12)
        ground = tuple(int(v) for v in rng.integers(0, 256, 3))
        image = texture(kind, rng, 160, 200)
        image[bands.band > 4] = ground
        assert background(image, bands).color == ground


def test_flat_paint_carried_over_the_whole_tile_is_no_ground():
    # Two islands in two colours, each colour carried to the middle between them: both are common far off, neither is a ground.
    labels = np.full((64, 64), -1, np.int32)
    labels[10:20, 10:20], labels[40:50, 40:50] = 0, 1
    bands = border_bands(labels, 2, 8)
    y, x = np.mgrid[:64, :64]
    image = np.where((x + y < 60)[..., None], (90, 80, 70), (40, 60, 50)).astype(np.uint8)
    assert background(image, bands) is None
    # One colour over everything is no ground either.
    assert background(np.full((64, 64), 30, np.uint8), bands) is None


def test_a_ground_that_some_edges_show_is_a_suspicion():
    labels = np.full((64, 64), -1, np.int32)
    labels[10:20, 10:20], labels[40:50, 40:50] = 0, 1
    bands = border_bands(labels, 2, 8)
    image = np.zeros((64, 64), np.uint8)
    image[labels == 0] = 200  # island 1 is bare, or black by right: half of all edge texels show the ground
    found = background(image, bands)
    assert (found.color, found.certain) == ((0,), False)
    assert found.carried == pytest.approx(0.5, abs=0.1)  # the layout is its own mirror image
    image[labels == 1] = 100
    assert background(image, bands).certain


def half_bare(spilled):
    """A square whose left half was left bare; a share of what lies far from it is painted."""
    labels = np.full((200, 200), -1, np.int32)
    labels[60:140, 60:140] = 0
    bands = border_bands(labels, 1, 8)
    rng = np.random.default_rng(7)
    image = np.full((200, 200, 3), 70, np.uint8)
    image[50:150, 120:150] = rng.integers(90, 200, (100, 30, 3))
    far = np.flatnonzero(bands.band.reshape(-1) == 255)
    image.reshape(-1, 3)[far[np.arange(len(far)) * 7 % 100 < 100 * spilled]] = (9, 200, 9)
    image[60:140, 70:120] = rng.integers(90, 200, (80, 50, 3))  # an eighth of the square is bare
    return image, bands


@pytest.mark.parametrize(("spilled", "bare"), [(0.2, True), (0.3, False)])
def test_paint_ends_on_a_ground_where_most_beside_it_shows_it(spilled, bare):
    """A quarter of what lies beside paint may be painted."""
    found = background(*half_bare(spilled), no_paint=True)
    assert found.beside == pytest.approx(1 - spilled, abs=0.04)
    assert found.bare == bare
    assert found.shown == pytest.approx(0.125, abs=0.01)


def test_where_paint_may_have_any_color_nothing_is_said_to_be_bare():
    found = background(*half_bare(0.0))
    assert (found.bare, found.beside) == (False, 0.0)


def test_a_map_of_another_size_is_refused():
    _, bands = one_island()
    with pytest.raises(ValueError, match="layout"):
        background(np.zeros((32, 32), np.uint8), bands)
