import struct

import pytest

from tests.load.pictures import noise, saved, tga
from tidegate.load.image_header import read_header

# Byte 17 of the header, bits 5 and 4 (Truevision TGA 2.0, image descriptor).
ORIGINS = {0x00: "bottom-left", 0x10: "bottom-right", 0x20: "top-left", 0x30: "top-right"}


def test_sizes_of_a_four_by_two_picture() -> None:
    # 18 bytes of header + 4 x 2 texels of 3 bytes = 42; the footer adds 26 (TGA 2.0)
    plain, footed = tga(4, 2, 24, bytes(24)), tga(4, 2, 24, bytes(24), footer=True)
    assert (len(plain), len(footed)) == (42, 68)
    for data in (plain, footed):
        header = read_header(data, "float.tga")
        assert (header.format, header.width, header.height, header.problem) == ("tga", 4, 2, "")
        assert (header.bits_per_pixel, header.channels, header.alpha_bits) == (24, 3, 0)
        assert (header.compression, header.lossy, header.origin) == ("none", False, "bottom-left")


@pytest.mark.parametrize(("descriptor", "origin"), ORIGINS.items())
def test_origin(descriptor: int, origin: str) -> None:
    assert read_header(tga(1, 1, 24, bytes(3), descriptor=descriptor), "a.tga").origin == origin


@pytest.mark.parametrize(
    ("kind", "depth", "descriptor", "channels", "each", "alpha", "model"),
    [
        (3, 8, 0, 1, 8, 0, "grey"),
        (3, 16, 8, 2, 8, 8, "grey"),
        (2, 15, 0, 3, 5, 0, "rgb"),
        (2, 16, 0, 3, 5, 0, "rgb"),
        (2, 16, 1, 4, 5, 1, "rgb"),
        (2, 24, 0, 3, 8, 0, "rgb"),
        (2, 32, 8, 4, 8, 8, "rgb"),
        (2, 32, 0, 4, 8, 0, "rgb"),  # a fourth byte that the header does not call alpha
    ],
)
def test_depths(kind: int, depth: int, descriptor: int, channels: int, each: int, alpha: int, model: str) -> None:
    for packed in (0, 8):
        data = tga(2, 1, depth, bytes(10), kind=kind | packed, descriptor=descriptor)
        header = read_header(data, "a.tga")
        assert header.problem == ""
        assert (header.bits_per_pixel, header.channels, header.bits_per_channel) == (depth, channels, each)
        assert (header.alpha_bits, header.color_model) == (alpha, model)
        assert header.compression == ("rle" if packed else "none")


@pytest.mark.parametrize(("bits", "alpha"), [(15, False), (16, False), (24, False), (32, True)])
def test_colour_map(bits: int, alpha: bool) -> None:
    colors = bytes(5 * ((bits + 7) // 8))
    header = read_header(tga(3, 1, 8, bytes(3), kind=1, color_map=colors, map_bits=bits), "a.tga")
    assert (header.color_model, header.palette, header.palette_alpha) == ("palette", 5, alpha)
    assert (header.channels, header.bits_per_pixel, header.problem) == (1, 8, "")


def test_every_truncation_length() -> None:
    whole = tga(4, 2, 24, bytes(range(24)), identification=b"net float", footer=True)
    need = 18 + 9 + 24
    for length in range(1, len(whole)):
        header = read_header(whole[:length], "a.tga")
        assert header.format == "tga", length
        assert header.problem == ("truncated" if length < need else ""), length


def test_packed_pixels_too_short_for_the_tightest_packing() -> None:
    # 256 equal texels of 24 bits fit in two packets of 1 + 3 bytes, and no fewer
    packets = bytes([0xFF, 1, 2, 3, 0xFF, 1, 2, 3])
    assert read_header(tga(16, 16, 24, packets, kind=10), "a.tga").problem == ""
    assert read_header(tga(16, 16, 24, packets[:-1], kind=10), "a.tga").problem == "truncated"


@pytest.mark.parametrize(
    ("at", "value", "words"),
    [
        (1, 2, "colour-map type 2"),
        (2, 0, "image type 0"),
        (2, 5, "image type 5"),
        (2, 1, "24 bits per pixel"),
        (12, 0, "0 x 2"),
        (14, 0, "4 x 0"),
        (16, 7, "7 bits per pixel"),
        (17, 0x80, "bits 7 and 6"),
        (17, 0x40, "bits 7 and 6"),
    ],
)
def test_a_header_that_cannot_be(at: int, value: int, words: str) -> None:
    data = bytearray(tga(4, 2, 24, bytes(30)))
    data[at] = value
    header = read_header(bytes(data), "a.tga")
    assert header.problem == "damaged"
    assert words in header.problem_detail


def test_gamma_and_kind_of_alpha_out_of_the_extension_area() -> None:
    # TGA 2.0 extension area: 495 bytes, gamma as a fraction at 478, attributes type at 494
    area = bytearray(495)
    struct.pack_into("<H", area, 0, 495)
    struct.pack_into("<HH", area, 478, 22, 10)
    area[494] = 4
    plain = tga(1, 1, 32, bytes(4), descriptor=8)
    footer = struct.pack("<II", len(plain), 0) + b"TRUEVISION-XFILE.\0"
    header = read_header(plain + bytes(area) + footer, "a.tga")
    assert header.color_chunks == (("gamma", "2.2"), ("alpha", "premultiplied"))
    assert header.alpha_bits == 8
    area[494] = 0  # no alpha data included, though the descriptor counts 8 bits
    header = read_header(plain + bytes(area) + footer, "a.tga")
    assert header.color_chunks == (("gamma", "2.2"), ("alpha", "none"))
    assert header.alpha_bits == 0


def test_found_under_a_wrong_name_by_footer_or_by_exact_length() -> None:
    footed = read_header(tga(4, 2, 24, bytes(24), footer=True), "a.png")
    assert (footed.format, footed.suffix_format, footed.width) == ("tga", "png", 4)
    exact = read_header(tga(4, 2, 24, bytes(24)), "a.png")
    assert (exact.format, exact.suffix_format) == ("tga", "png")
    loose = read_header(tga(4, 2, 24, bytes(25)), "a.png")
    assert (loose.format, loose.problem) == ("", "not-an-image")


@pytest.mark.parametrize("mode", ["L", "LA", "RGB", "RGBA", "P"])
def test_pillow_writes_what_is_read(mode: str) -> None:
    for options in ({}, {"compression": "tga_rle"}, {"orientation": 1}):
        header = read_header(saved(noise(mode), "TGA", **options), "a.tga")
        assert (header.width, header.height, header.problem) == (13, 7, "")
        assert header.bits_per_pixel == {"L": 8, "LA": 16, "RGB": 24, "RGBA": 32, "P": 8}[mode]


def test_no_flipped_bit_crashes() -> None:
    whole = tga(4, 2, 24, bytes(24), footer=True)
    for at in range(len(whole)):
        for bit in range(8):
            header = read_header(whole[:at] + bytes([whole[at] ^ 1 << bit]) + whole[at + 1 :], "a.tga")
            assert header.problem in ("", "damaged", "truncated")
