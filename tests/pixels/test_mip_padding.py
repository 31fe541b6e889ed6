import numpy as np
import pytest

from tidegate.pixels.mip_padding import mip_kept_clean, mip_levels, mip_size, padding_for_mip


def test_table():
    assert [padding_for_mip(n) for n in range(8)] == [1, 2, 5, 11, 23, 47, 95, 191]


@pytest.mark.parametrize("level", range(5))
def test_by_building_the_mips(level):
    """The furthest texel outside an edge that a bilinear sample inside it can see, over all alignments of the edge."""
    size = 512
    furthest = 0
    for edge in range(128, 128 + 2**level):  # texels left of `edge` are outside
        for distance in range(1, padding_for_mip(level) + 4):
            row = np.zeros(size)
            row[edge - distance] = 1.0
            for _ in range(level):
                row = row.reshape(-1, 2).mean(axis=1)
            # Bilinear sample exactly at the edge, the outermost one inside (Vulkan: i0 = floor(u - 1/2)).
            u = edge / 2**level - 0.5
            i = int(np.floor(u))
            response = row[i] * (1 - (u - i)) + row[i + 1] * (u - i)
            if response > 0:
                furthest = max(furthest, distance)
    assert furthest == padding_for_mip(level)


def test_level_kept_clean_is_the_other_way_round():
    assert [mip_kept_clean(p) for p in (0, 1, 2, 4, 5, 10, 11, 22, 23)] == [-1, 0, 1, 1, 2, 2, 3, 3, 4]


@pytest.mark.parametrize(
    ("width", "height", "levels"),  # Vulkan, Image Mip Level Sizing: floor(log2(max)) + 1
    [(2048, 2048, 12), (4096, 4096, 13), (1024, 512, 11), (1000, 600, 10), (3, 5, 3), (1, 1, 1)],
)
def test_chain_length(width, height, levels):
    assert mip_levels(width, height) == levels
    assert mip_size(width, height, levels - 1) == (1, 1)
    assert mip_size(1000, 600, 3) == (125, 75)


def test_negative_level_is_refused():
    with pytest.raises(ValueError, match="0 or more"):
        padding_for_mip(-1)
