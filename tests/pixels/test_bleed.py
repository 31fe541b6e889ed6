import numpy as np
import pytest
from scipy.ndimage import distance_transform_edt

from tests.pixels.synthetic import TEXTURES, layout, raster, texture, true_bleed
from tidegate.pixels.background import background
from tidegate.pixels.bleed import bleed
from tidegate.pixels.border_bands import border_bands
from tidegate.pixels.differing import differing


def square(size=100, depth=20):
    labels = np.full((size, size), -1, np.int32)
    labels[40:60, 40:60] = 0
    return labels, border_bands(labels, 1, depth), distance_transform_edt(labels < 0)


@pytest.mark.parametrize("painted_to", [0, 1, 2, 5, 11, 19])
def test_paint_carried_k_texels_is_k_deep(painted_to):
    _, bands, distance = square()
    found = bleed(distance <= painted_to, bands, 11)
    assert found.depth.tolist() == [painted_to]
    assert found.open_ended.tolist() == [False]
    assert found.bare[0] == ((distance > painted_to) & (distance <= 11)).sum()


def test_paint_to_the_end_of_the_bands_is_at_least_that_deep():
    _, bands, distance = square()
    found = bleed(distance <= 40, bands, 11)
    assert (found.depth[0], found.open_ended[0], found.run[0]) == (20, True, 0)


def test_ninety_eight_in_a_hundred_is_enough_and_one_texel_less_is_not():
    labels = np.full((10, 120), -1, np.int32)
    labels[:5, 10:110] = 0  # lies on the upper border: below it 100 texels, beside it 5 + 5 = 110 at distance 1
    bands = border_bands(labels, 1, 1)
    assert bands.totals.tolist() == [[500, 110]]
    painted = np.ones(labels.shape, bool)
    painted[5, 50:52] = False  # 108 / 110 = 0.9818
    assert bleed(painted, bands, 1).depth[0] == 1
    painted[5, 52] = False  # 107 / 110 = 0.9727
    found = bleed(painted, bands, 1)
    assert found.depth[0] == 0
    assert (found.run[0], found.run_depth[0], found.run_box[0].tolist()) == (3, 0, [50, 5, 53, 6])


def test_the_worst_run_is_the_longest_gap_with_the_depth_it_reaches():
    _, bands, distance = square()
    painted = distance <= 12
    painted[60 + 3 :, 45:55] = False  # below: three texels, ten wide
    painted[40:42, 30:39] = False  # to the left: one texel left, two wide
    found = bleed(painted, bands, 11)
    assert found.run[0] == 10
    assert found.run_depth[0] == 3
    x0, y0, x1, y1 = found.run_box[0].tolist()
    assert (x0, y0, x1) == (45, 63, 55)
    assert y1 == 71  # distance 11 below row 59 is row 70, half-open 71


def test_neighbours_share_the_gap_and_do_not_judge_each_other():
    labels = np.full((40, 60), -1, np.int32)
    labels[:, :20], labels[:, 32:] = 0, 1  # a gap of twelve
    bands = border_bands(labels, 2, 20)
    painted = np.ones(labels.shape, bool)
    painted[:, 22:26] = False  # island 0 is painted two texels out of its six, island 1 all its six
    found = bleed(painted, bands, 6)
    assert found.depth.tolist() == [2, 20]
    assert found.open_ended.tolist() == [False, True]
    assert found.texels.tolist() == [240, 240]


def test_no_room_and_no_background_are_never_short():
    full = border_bands(np.zeros((8, 8), np.int32), 1, 4)
    found = bleed(np.zeros((8, 8), bool), full, 4)
    assert (found.depth[0], found.open_ended[0], found.texels[0], found.bare[0]) == (4, True, 0, 0)
    _, bands, _ = square()
    assert bleed(None, bands, 5).depth.tolist() == [20]


def test_paint_that_looks_like_the_background_at_the_edge_cannot_be_told():
    labels, bands, distance = square()
    painted = (distance <= 8) & (labels != 0)
    painted[42:58, 42:58] = True  # the island's outer two texels show the background colour
    found = bleed(painted, bands, 5)
    assert found.indistinct[0] == 1.0
    assert not found.can_tell[0]
    painted[labels == 0] = True
    assert bleed(painted, bands, 5).can_tell[0]


@pytest.mark.parametrize("kind", TEXTURES)
@pytest.mark.parametrize("seed", range(8))
def test_random_layouts_agree_with_the_definition(kind, seed):
    rng = np.random.default_rng([seed, TEXTURES.index(kind)])
    height, width = int(rng.integers(90, 170)), int(rng.integers(90, 170))
    polygons = layout(rng, height, width, int(rng.integers(1, 7)))
    labels = raster(polygons, height, width)
    distance = distance_transform_edt(labels < 0)
    image = texture(kind, rng, height, width, low=20)
    image[distance > rng.integers(0, 13)] = 0
    bands = border_bands(labels, len(polygons), 15)
    ground = background(image, bands)
    assert ground is not None
    assert ground.color == (0, 0, 0)
    painted = differing(image, ground.color)
    found = bleed(painted, bands, 8)
    for i, want in enumerate(true_bleed(image.any(axis=2), labels, len(polygons), 15)):
        if want is not None:
            assert found.depth[i] == want


def test_wanted_must_lie_within_the_bands():
    _, bands, _ = square()
    with pytest.raises(ValueError, match="depth of the bands"):
        bleed(None, bands, 21)
    with pytest.raises(ValueError, match="layout"):
        bleed(np.zeros((3, 3), bool), bands, 5)


def test_where_to_look_first_is_a_bare_texel_at_the_least_depth_halfway_along() -> None:
    _, bands, distance = square()
    painted = distance <= 12
    painted[60 + 3 :, 45:55] = False  # below: rows 60 to 62 are painted, 63 is the nearest bare one
    painted[40:42, 30:39] = False  # shorter, though it begins nearer
    found = bleed(painted, bands, 11)
    assert found.run_at[0].tolist() == [49, 63]  # of columns 45 to 54 the fifth
    assert bleed(distance <= 12, bands, 11).run_at[0].tolist() == [0, 0]  # nothing is bare
    around = bleed(distance <= 2, bands, 11)
    x, y = around.run_at[0].tolist()
    assert 2 < distance[y, x] <= 3
