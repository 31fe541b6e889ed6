import numpy as np
import pytest

from tests.pixels.synthetic import TEXTURES, texture
from tidegate.pixels.color_space import decode, encode
from tidegate.pixels.normal_length import EIGHT_BIT_BOUND, normal_length


def normals(seed, shape=(120, 140), bump=0.5):
    rng = np.random.default_rng(seed)
    vector = np.concatenate([rng.normal(0, bump, (*shape, 2)), np.ones((*shape, 1))], axis=2)
    return vector / np.linalg.norm(vector, axis=2, keepdims=True)


def stored(vector, top=255, curve=lambda v: v):
    return np.rint(curve((vector + 1) / 2) * top).astype(np.uint8 if top == 255 else np.uint16)


def test_bound_of_a_correctly_rounded_unit_normal():
    assert pytest.approx(0.0067924, abs=5e-8) == EIGHT_BIT_BOUND  # sqrt(3) / 255
    directions = np.random.default_rng(0).normal(size=(400, 500, 3))
    directions /= np.linalg.norm(directions, axis=2, keepdims=True)
    found = normal_length(stored(directions))
    assert found.beyond == 0.0
    assert found.inward == pytest.approx(0.5, abs=0.01)
    assert not found.is_normal_map  # unit vectors in all directions are no tangent-space map


@pytest.mark.parametrize(
    ("color", "length"),
    [
        ((128, 128, 255), 1.0000154),  # there is no exact flat normal in 8 bits
        ((127, 127, 255), 1.0000154),
        ((188, 188, 255), 1.2043),  # the flat normal saved through the sRGB curve
        ((128, 128, 128), 0.0068),
        ((255, 255, 255), 1.7321),
    ],
)
def test_lengths_of_single_colours(color, length):
    found = normal_length(np.full((8, 8, 3), color, np.uint8))
    assert found.lengths == (pytest.approx(length, abs=5e-5),) * 5


@pytest.mark.parametrize(
    ("color", "curve", "normal"),
    [
        ((128, 128, 255), "", True),
        ((188, 188, 255), "encoded", True),
        ((55, 55, 255), "decoded", True),  # decode(128/255) x 255 = 55.04
        ((128, 128, 128), "", False),
        ((255, 255, 255), "", False),
        ((0, 0, 0), "", False),
        ((128, 128, 0), "", False),  # points inwards
    ],
)
def test_flat_maps_by_curve(color, curve, normal):
    found = normal_length(np.full((16, 16, 3), color, np.uint8))
    assert (found.curve, found.is_normal_map) == (curve, normal)


@pytest.mark.parametrize("bump", [0.0, 0.1, 0.5, 1.0])
@pytest.mark.parametrize(("curve", "said"), [(lambda v: v, ""), (encode, "encoded"), (decode, "decoded")])
def test_curve_on_bumpy_maps(bump, curve, said):
    found = normal_length(stored(normals(1, bump=bump), curve=curve))
    assert (found.curve, found.is_normal_map) == (said, True)


@pytest.mark.parametrize("kind", TEXTURES)
def test_a_color_picture_is_no_normal_map(kind):
    for seed in range(5):
        found = normal_length(texture(kind, np.random.default_rng(seed), 96, 96))
        assert not found.is_normal_map
        assert found.curve == ""


def test_percentiles_agree_with_numpy_and_only_the_inside_counts():
    rng = np.random.default_rng(3)
    image = stored(normals(2) * rng.uniform(0.8, 1.0, (120, 140, 1)))
    inside = rng.random((120, 140)) < 0.5
    image[~inside] = 0
    length = np.linalg.norm(image[inside] / 255.0 * 2 - 1, axis=1)
    found = normal_length(image, inside)
    want = [np.quantile(length, p, method="inverted_cdf") for p in (0.01, 0.05, 0.5, 0.95, 0.99)]
    assert found.lengths == pytest.approx(want, abs=1e-6)
    assert found.beyond == (np.abs(length - 1) > EIGHT_BIT_BOUND).mean()
    assert found.mean == pytest.approx(tuple((image[inside] / 255.0 * 2 - 1).mean(axis=0)), abs=2e-6)
    assert found.texels == inside.sum()


def test_blue_at_and_above_one_half():
    image = np.full((2, 2, 3), (255, 128, 128), np.uint8)  # 128 / 255 is just above one half
    image[0, 0, 2] = 127
    assert normal_length(image).inward == 0.25
    sixteen = np.full((2, 2, 3), (65535, 32768, 32768), np.uint16)
    sixteen[0, 0, 2] = 32767
    assert normal_length(sixteen).inward == 0.25


def test_sixteen_bits_have_their_own_bound():
    vector = normals(4)
    assert normal_length(stored(vector, 65535)).beyond == 0.0
    # 2.643e-5 = sqrt(3) / 65535: a shortening of 1e-4 is far beyond it, and within 8-bit rounding
    short = normal_length(stored(vector * (1 - 1e-4), 65535))
    assert short.beyond > 0.99
    assert normal_length(stored(vector * (1 - 1e-4))).beyond < 0.05
    assert short.lengths[2] == pytest.approx(1.0, abs=2e-4)


def test_no_texels_and_too_few_channels():
    assert normal_length(np.zeros((4, 4, 3), np.uint8), np.zeros((4, 4), bool)).texels == 0
    with pytest.raises(ValueError, match="three channels"):
        normal_length(np.zeros((4, 4), np.uint8))
