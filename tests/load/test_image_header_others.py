"""BMP, WebP, GIF, DDS, KTX2 and EXR."""

import struct

import pytest

from tests.load.pictures import dds, exr, ktx2, noise, saved
from tidegate.load.image_header import read_header

FRAMES = [noise("RGB", seed=seed) for seed in range(3)]


@pytest.mark.parametrize(
    ("mode", "bits", "palette", "model"),
    [("1", 1, 2, "palette"), ("L", 8, 256, "palette"), ("P", 8, 16, "palette"), ("RGB", 24, 0, "rgb")],
)
def test_bmp(mode: str, bits: int, palette: int, model: str) -> None:
    header = read_header(saved(noise(mode), "BMP"), "a.bmp")
    assert (header.format, header.width, header.height, header.problem) == ("bmp", 13, 7, "")
    assert (header.bits_per_pixel, header.palette, header.color_model) == (bits, palette, model)
    assert (header.origin, header.compression, header.alpha_bits) == ("bottom-left", "none", 0)


def test_bmp_with_a_negative_height_begins_at_the_top() -> None:
    data = bytearray(saved(noise("RGB"), "BMP"))
    struct.pack_into("<i", data, 22, -7)
    header = read_header(bytes(data), "a.bmp")
    assert (header.origin, header.height, header.problem) == ("top-left", 7, "")


def test_bmp_alpha_needs_a_mask() -> None:
    # BITMAPV4HEADER, BI_BITFIELDS: four masks behind the first 40 bytes; then the colour space, "sRGB" back to front
    masks = struct.pack("<4I", 0xFF0000, 0xFF00, 0xFF, 0xFF000000)
    second = struct.pack("<IiiHHIIiiII", 108, 2, 1, 1, 32, 3, 8, 0, 0, 0, 0) + masks + b"BGRs" + bytes(48)
    data = struct.pack("<2sIII", b"BM", 14 + 108 + 8, 0, 14 + 108) + second + bytes(8)
    header = read_header(data, "a.bmp")
    assert (header.alpha_bits, header.channels, header.bits_per_channel, header.problem) == (8, 4, 8, "")
    assert header.color_chunks == (("color space", "sRGB"),)


def test_bmp_truncation_and_damage() -> None:
    whole = saved(noise("RGB"), "BMP")
    for length in range(1, len(whole)):
        header = read_header(whole[:length], "a.bmp")
        assert (header.format, header.problem) == ("bmp", "truncated"), length
    flat = bytearray(whole)
    struct.pack_into("<i", flat, 18, 0)
    assert read_header(bytes(flat), "a.bmp").problem == "damaged"
    assert read_header(b"BMX is a bicycle, not a picture", "a.bmp").problem == "not-an-image"


@pytest.mark.parametrize("mode", ["RGB", "RGBA"])
@pytest.mark.parametrize("lossless", [False, True])
def test_webp(mode: str, lossless: bool) -> None:
    whole = saved(noise(mode), "WEBP", lossless=lossless)
    header = read_header(whole, "a.webp")
    assert (header.format, header.width, header.height, header.problem) == ("webp", 13, 7, "")
    assert (header.channels, header.alpha_bits) == ((4, 8) if mode == "RGBA" else (3, 0))
    assert (header.lossy, header.compression) == (not lossless, "vp8l" if lossless else "vp8")
    for length in range(1, len(whole)):
        cut = read_header(whole[:length], "a.webp")
        assert (cut.format, cut.problem) == ("webp", "truncated"), length


def test_webp_frames_and_orientation() -> None:
    moving = saved(FRAMES[0], "WEBP", save_all=True, append_images=FRAMES[1:], lossless=True)
    header = read_header(moving, "a.webp")
    assert (header.frames, header.lossy, header.width, header.problem) == (3, False, 13, "")
    exif = b"Exif\0\0MM\0*\0\0\0\x08\0\x01\x01\x12\0\x03\0\0\0\x01\0\x03\0\0\0\0\0\0"
    assert read_header(saved(noise("RGB"), "WEBP", exif=exif), "a.webp").orientation == 3


def test_gif() -> None:
    moving = saved(FRAMES[0], "GIF", save_all=True, append_images=FRAMES[1:])
    header = read_header(moving, "a.gif")
    assert (header.format, header.width, header.height, header.frames, header.problem) == ("gif", 13, 7, 3, "")
    assert (header.color_model, header.channels, header.compression) == ("palette", 1, "lzw")
    still = saved(noise("P"), "GIF", transparency=3)
    assert read_header(still, "a.gif").palette_alpha
    for length in range(1, len(still)):
        cut = read_header(still[:length], "a.gif")
        assert (cut.format, cut.problem) == ("gif", "truncated"), length


# Bytes of a chain of 8 x 4 with 4 levels (8x4, 4x2, 2x1, 1x1) in whole 4 x 4 blocks: 2 + 1 + 1 + 1 = 5 blocks
@pytest.mark.parametrize(
    ("code", "dx10", "name", "block", "alpha"),
    [
        (b"DXT1", None, "bc1", 8, 1),
        (b"DXT5", None, "bc3", 16, 8),
        (b"ATI2", None, "bc5", 16, 0),
        (b"DX10", 98, "bc7", 16, 8),
        (b"DX10", 95, "bc6h", 16, 0),
    ],
)
def test_dds_blocks_with_mip_levels(code: bytes, dx10: int | None, name: str, block: int, alpha: int) -> None:
    whole = dds(8, 4, code, 4, bytes(5 * block), dx10=dx10)
    header = read_header(whole, "a.dds")
    assert (header.format, header.width, header.height, header.problem) == ("dds", 8, 4, "")
    assert (header.compression, header.lossy, header.mip_levels) == (name, True, 4)
    assert (header.bits_per_pixel, header.alpha_bits, header.color_model) == (block // 2, alpha, "compressed")
    assert header.sample == ("float" if name == "bc6h" else "uint")
    for length in range(1, len(whole)):
        assert read_header(whole[:length], "a.dds").problem == "truncated", length


def test_dds_without_blocks() -> None:
    for mode, bits, channels, alpha in (("RGB", 24, 3, 0), ("RGBA", 32, 4, 8), ("L", 8, 1, 0), ("LA", 16, 2, 8)):
        header = read_header(saved(noise(mode), "DDS"), "a.dds")
        assert (header.bits_per_pixel, header.channels, header.alpha_bits) == (bits, channels, alpha)
        assert (header.bits_per_channel, header.compression, header.problem) == (8, "none", "")


def test_ktx2() -> None:
    whole = ktx2(8, 4, 4)
    header = read_header(whole, "a.ktx2")
    assert (header.format, header.width, header.height, header.problem) == ("ktx2", 8, 4, "")
    assert (header.bits_per_pixel, header.channels, header.alpha_bits, header.mip_levels) == (32, 4, 8, 4)
    assert ("transfer", "sRGB") in header.color_chunks
    assert ("transfer", "linear") in read_header(ktx2(8, 4, 1, transfer=1), "a.ktx2").color_chunks
    for length in range(1, len(whole)):
        assert read_header(whole[:length], "a.ktx2").problem == "truncated", length


def test_ktx2_blocks() -> None:
    header = read_header(ktx2(8, 4, 1, model=134), "a.ktx2")
    assert (header.compression, header.lossy, header.bits_per_pixel, header.problem) == ("bc7", True, 8, "")
    assert read_header(ktx2(8, 4, 1, model=166), "a.ktx2").compression == "uastc"


def test_exr() -> None:
    whole = exr(5, 4)
    header = read_header(whole, "a.exr")
    assert (header.format, header.width, header.height, header.problem) == ("exr", 5, 4, "")
    assert (header.channels, header.bits_per_channel, header.bits_per_pixel) == (4, 16, 64)
    assert (header.alpha_bits, header.sample, header.color_model) == (16, "float", "rgb")
    assert (header.compression, header.lossy) == ("none", False)
    for length in range(1, len(whole)):
        cut = read_header(whole[:length], "a.exr")
        assert (cut.format, cut.problem) == ("exr", "truncated"), length


def test_exr_whose_writer_never_came_back_to_the_offset_table() -> None:
    whole = bytearray(exr(5, 4, channels=("Y",), kind=2))
    assert read_header(bytes(whole), "a.exr").color_model == "grey"
    table = len(whole) - 4 * (8 + 20) - 4 * 8
    whole[table + 24 : table + 32] = bytes(8)
    header = read_header(bytes(whole), "a.exr")
    assert header.problem == "truncated"
    assert "never finished" in header.problem_detail


@pytest.mark.parametrize(
    ("name", "whole"),
    [
        ("a.webp", saved(noise("RGBA", 3, 2), "WEBP")),
        ("a.gif", saved(noise("P", 3, 2), "GIF")),
        ("a.bmp", saved(noise("P", 3, 2), "BMP")),
        ("a.dds", dds(8, 4, b"DX10", 4, bytes(80), dx10=98)),
        ("a.ktx2", ktx2(2, 2, 2)),
        ("a.exr", exr(2, 2)),
    ],
)
def test_no_flipped_byte_crashes(name: str, whole: bytes) -> None:
    for at in range(len(whole)):
        for mask in (0x01, 0x80, 0xFF):
            header = read_header(whole[:at] + bytes([whole[at] ^ mask]) + whole[at + 1 :], name)
            assert header.problem in ("", "damaged", "truncated", "not-an-image")
