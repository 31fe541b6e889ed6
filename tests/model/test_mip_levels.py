import pytest

from tidegate.model.image_header import ImageHeader
from tidegate.model.mip_levels import decoded_channels, level_count, level_sizes, unpacked_bytes


# Vulkan, "Image Mip Level Sizing": floor(log2(max(w, h))) + 1
@pytest.mark.parametrize(
    ("width", "height", "levels"),
    [(2048, 2048, 12), (4096, 4096, 13), (1024, 512, 11), (1000, 600, 10), (3, 5, 3), (1, 1, 1), (8192, 1, 14)],
)
def test_count_of_a_full_chain(width: int, height: int, levels: int) -> None:
    assert level_count(width, height) == levels
    assert level_sizes(width, height)[-1] == (1, 1)
    assert len(level_sizes(width, height)) == levels


def test_each_level_is_half_of_the_last_rounded_down_and_never_zero() -> None:
    assert level_sizes(3, 5) == ((3, 5), (1, 2), (1, 1))
    assert level_sizes(1000, 600, 3) == ((1000, 600), (500, 300), (250, 150))


@pytest.mark.parametrize(("width", "height"), [(0, 5), (5, 0), (0, 0), (-1, 4)])
def test_no_picture_has_no_levels(width: int, height: int) -> None:
    assert level_count(width, height) == 0
    assert level_sizes(width, height) == ()
    assert unpacked_bytes(ImageHeader("png", 1, width=width, height=height)) == 0


def header(**facts: object) -> ImageHeader:
    stated = {"width": 4, "height": 4, "channels": 3, "bits_per_channel": 8, "color_model": "rgb", **facts}
    return ImageHeader("png", 1, **stated)


def test_unpacked_bytes_count_decoded_channels() -> None:
    # 4x4 + 2x2 + 1x1 = 21 texels
    assert unpacked_bytes(header()) == 21 * 3
    assert unpacked_bytes(header(), mip_chain=False) == 16 * 3
    assert unpacked_bytes(header(channels=4, alpha_bits=8)) == 21 * 4
    assert unpacked_bytes(header(bits_per_channel=16)) == 21 * 6
    assert unpacked_bytes(header(channels=1, color_model="palette", palette=2, bits_per_channel=1)) == 21 * 3
    assert unpacked_bytes(header(channels=1, color_model="grey", bits_per_channel=1)) == 21


def test_blocks_stay_packed_and_are_whole() -> None:
    # BC1 holds 4 x 4 texels in 8 bytes; the 2 x 2 and 1 x 1 levels each take a whole block
    assert unpacked_bytes(header(color_model="compressed", bits_per_pixel=4)) == 3 * 8
    # BC7 at 5 x 4: two blocks of 16 bytes, then 2 x 2 and 1 x 1
    assert unpacked_bytes(header(color_model="compressed", bits_per_pixel=8, width=5)) == 2 * 16 + 16 + 16


def test_a_fourth_channel_without_alpha_bits_does_not_count() -> None:
    assert decoded_channels(header(channels=4, alpha_bits=0)) == 3
    assert decoded_channels(header(channels=4, color_model="cmyk")) == 3
    assert decoded_channels(header(channels=1, color_model="palette", palette_alpha=True)) == 4
    assert decoded_channels(header(channels=2, color_model="grey", alpha_bits=8)) == 2
