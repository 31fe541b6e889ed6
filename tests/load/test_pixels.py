import io
import random
import struct
import tracemalloc
import zlib
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from PIL import Image

from tests.load.pictures import (
    PNG_SIGNATURE,
    chunk,
    dds,
    exr,
    ihdr,
    ktx2,
    noise,
    openraster,
    png,
    png_interlaced_rows,
    png_rows,
    psd,
    psd_layer,
    saved,
    tga,
    tiff,
    tiff_rgb16,
)
from tidegate.errors import LimitExceeded, NoReader, UnreadableFile
from tidegate.load.image_header import read_header
from tidegate.load.pixels import PixelLimits, decode, decoded_bytes, decoding_notes, merged_picture

RNG = np.random.default_rng(7)


def decoded(data: bytes, name: str) -> np.ndarray:
    return decode(data, read_header(data, name), name=name)


def sixteen(channels: int, height: int = 7, width: int = 13) -> np.ndarray:
    """Random values with both bytes in use."""
    return RNG.integers(0, 65536, (height, width, channels)).astype(np.uint16)


def blank_png(width: int, height: int, depth: int) -> bytes:
    """A grey PNG of zeros: one packed block of 1,000 rows, again and again. height: a multiple of 1,000."""
    block = (1 + width * depth // 8) * 1000
    pack = zlib.compressobj(9, wbits=-15)
    packed = pack.compress(bytes(block)) + pack.flush(zlib.Z_FULL_FLUSH)
    # Adler-32 of n zero bytes (RFC 1950, 8.2): s1 stays 1, s2 counts n
    check = struct.pack(">HH", block * (height // 1000) % 65521, 1)
    data = b"\x78\xda" + packed * (height // 1000) + b"\x03\x00" + check
    return PNG_SIGNATURE + ihdr(width, height, depth, 0) + chunk(b"IDAT", data) + chunk(b"IEND", b"")


# ---------------------------------------------------------------- against Pillow, format by format

MATRIX = [
    *(("PNG", "a.png", mode, {}) for mode in ("1", "L", "LA", "P", "RGB", "RGBA")),
    *(("JPEG", "a.jpg", mode, {"progressive": p}) for mode in ("L", "RGB", "CMYK") for p in (False, True)),
    *(("TIFF", "a.tif", mode, {}) for mode in ("1", "L", "LA", "P", "RGB", "RGBA", "CMYK")),
    *(("TIFF", "a.tif", mode, {"compression": "tiff_lzw"}) for mode in ("1", "L", "P", "RGB", "RGBA")),
    *(("BMP", "a.bmp", mode, {}) for mode in ("1", "L", "P", "RGB")),
    *(("WEBP", "a.webp", mode, {"lossless": b}) for mode in ("RGB", "RGBA") for b in (False, True)),
    *(("GIF", "a.gif", mode, {}) for mode in ("L", "P")),
    *(("DDS", "a.dds", mode, {}) for mode in ("L", "LA", "RGB", "RGBA")),
    *(("TGA", "a.tga", mode, {}) for mode in ("L", "LA", "RGB", "RGBA", "P")),
    *(("TGA", "a.tga", mode, {"compression": "tga_rle"}) for mode in ("L", "LA", "RGB", "RGBA", "P")),
    *(("TGA", "a.tga", mode, {"orientation": 1}) for mode in ("L", "RGBA")),
]
CHANNELS = {"1": 1, "L": 1, "LA": 2, "P": 3, "RGB": 3, "RGBA": 4, "CMYK": 3}


@pytest.mark.parametrize(("format", "name", "mode", "options"), MATRIX)
@pytest.mark.parametrize("size", [(13, 7), (1, 1), (300, 2)])
def test_same_pixels_as_pillow(format: str, name: str, mode: str, options: dict, size: tuple[int, int]) -> None:
    data = saved(noise(mode, *size), format, **options)
    values = decoded(data, name)
    channels = 3 if format in ("BMP", "GIF") else CHANNELS[mode]
    assert values.shape == (size[1], size[0], channels)
    assert values.dtype == np.uint8
    wanted = np.array(Image.open(io.BytesIO(data)).convert(("L", "LA", "RGB", "RGBA")[channels - 1]))
    assert np.array_equal(values, wanted.reshape(values.shape))


@pytest.mark.parametrize("size", [(8192, 1), (1, 8192), (1, 1)])
@pytest.mark.parametrize(("format", "name"), [("PNG", "a.png"), ("TGA", "a.tga"), ("TIFF", "a.tif"), ("JPEG", "a.jpg")])
def test_long_thin_and_tiny(size: tuple[int, int], format: str, name: str) -> None:
    values = decoded(saved(noise("L", *size), format), name)
    assert values.shape == (size[1], size[0], 1)
    if format != "JPEG":
        assert np.array_equal(values[:, :, 0], np.array(noise("L", *size)))


def test_palette_with_transparency_is_expanded_to_four_channels() -> None:
    palette = chunk(b"PLTE", bytes([10, 20, 30, 40, 50, 60])) + chunk(b"tRNS", bytes([7]))
    values = decoded(png(2, 1, 8, 3, b"\0\0\1", before=palette), "a.png")
    # entries beyond tRNS are opaque (PNG 11.3.1.1)
    assert values.tolist() == [[[10, 20, 30, 7], [40, 50, 60, 255]]]


def test_one_clear_colour_becomes_alpha() -> None:
    rgb = png(2, 1, 8, 2, b"\0\1\2\3\4\5\6", before=chunk(b"tRNS", bytes([0, 4, 0, 5, 0, 6])))
    assert decoded(rgb, "a.png").tolist() == [[[1, 2, 3, 255], [4, 5, 6, 0]]]
    # 2-bit grey 0 1 2 3 is stretched to 0 85 170 255; the clear grey is 2
    grey = png(4, 1, 2, 0, bytes([0, 0b00011011]), before=chunk(b"tRNS", bytes([0, 2])))
    assert decoded(grey, "a.png").tolist() == [[[0, 255], [85, 255], [170, 0], [255, 255]]]
    deep = png(2, 1, 16, 0, bytes([0, 1, 2, 1, 3]), before=chunk(b"tRNS", bytes([1, 3])))
    assert decoded(deep, "a.png").tolist() == [[[0x102, 65535], [0x103, 0]]]


# ---------------------------------------------------------------- 16 bits


@pytest.mark.parametrize(("channels", "color_type"), [(1, 0), (2, 4), (3, 2), (4, 6)])
@pytest.mark.parametrize("filters", [[0], [1], [2], [3], [4], [4, 3, 2, 1, 0]])
def test_sixteen_bit_png_keeps_both_bytes(channels: int, color_type: int, filters: list[int]) -> None:
    values = sixteen(channels)
    got = decoded(png(13, 7, 16, color_type, png_rows(values, filters)), "height.png")
    assert got.dtype == np.uint16
    assert np.array_equal(got, values)
    assert len(np.unique(got & 255)) > 1  # what a reader of high bytes would lose


@pytest.mark.parametrize(("channels", "color_type"), [(1, 0), (2, 4), (3, 2), (4, 6)])
def test_sixteen_bit_png_interlaced(channels: int, color_type: int) -> None:
    values = sixteen(channels)
    got = decoded(png(13, 7, 16, color_type, png_interlaced_rows(values, [4, 1, 3]), interlace=1), "a.png")
    assert np.array_equal(got, values)


@pytest.mark.parametrize("order", ["<", ">"])
@pytest.mark.parametrize("compression", [1, 8])
def test_sixteen_bit_tiff_keeps_both_bytes(order: str, compression: int) -> None:
    values = sixteen(3)
    got = decoded(tiff_rgb16(values, order, compression), "a.tif")
    assert got.dtype == np.uint16
    assert np.array_equal(got, values)


@pytest.mark.parametrize("order", ["<", ">"])
def test_fourth_channel_of_sixteen_bit_tiff_by_what_the_file_calls_it(order: str) -> None:
    # ExtraSamples (TIFF 6.0, tag 338): missing, 0 unspecified, 1 premultiplied alpha, 2 straight alpha
    values = sixteen(4)
    unnamed = tiff_rgb16(values, order)
    assert np.array_equal(decoded(unnamed, "a.tif"), values[:, :, :3])
    assert "fourth channel" in decoding_notes(read_header(unnamed, "a.tif"))[0]
    assert np.array_equal(decoded(tiff_rgb16(values, order, extra=2), "a.tif"), values)
    with pytest.raises(NoReader):
        decoded(tiff_rgb16(values, order, extra=1), "a.tif")


def test_tiff_strip_that_unpacks_to_fewer_rows() -> None:
    for values in (sixteen(3), sixteen(3).astype(np.uint8)):
        raw = [zlib.compress(values[y : y + 2].tobytes()) for y in range(0, 6, 2)] + [zlib.compress(b"x")]
        depth = 8 * values.itemsize
        tags = {256: (4, (13,)), 257: (4, (7,)), 258: (3, (depth,) * 3), 259: (3, (8,)), 262: (3, (2,)), 277: (3, (3,))}
        with pytest.raises(UnreadableFile):
            decoded(tiff("<", {**tags, 278: (4, (2,))}, raw), "a.tif")


def test_sixteen_bit_grey_tiff_and_white_is_zero() -> None:
    values = sixteen(1)[:, :, 0]
    assert np.array_equal(decoded(saved(Image.fromarray(values), "TIFF"), "a.tif")[:, :, 0], values)
    raw = values.astype("<u2").tobytes()
    tags = {
        256: (4, (13,)),
        257: (4, (7,)),
        258: (3, (16,)),
        259: (3, (1,)),
        262: (3, (0,)),
        277: (3, (1,)),
        278: (4, (7,)),
    }
    assert np.array_equal(decoded(tiff("<", tags, [raw]), "a.tif")[:, :, 0], 65535 - values)


def test_float_grey_tiff() -> None:
    picture = noise("F")
    got = decoded(saved(picture, "TIFF"), "a.tif")
    assert got.dtype == np.float32
    assert np.array_equal(got[:, :, 0], np.array(picture))


@pytest.mark.parametrize("depth", [8, 16])
def test_tiff_orientation_is_applied(depth: int) -> None:
    # TIFF 6.0, tag 274: which sides of the picture the first stored row and the first stored column are
    stored = sixteen(3, 2, 3) if depth == 16 else (sixteen(3, 2, 3) >> 8).astype(np.uint8)
    turned = stored.transpose(1, 0, 2)
    seen = {
        1: stored,
        2: stored[:, ::-1],
        3: stored[::-1, ::-1],
        4: stored[::-1],
        5: turned,
        6: turned[:, ::-1],
        7: turned[::-1, ::-1],
        8: turned[::-1],
    }
    for orientation, wanted in seen.items():
        tags = {256: (4, (3,)), 257: (4, (2,)), 258: (3, (depth,) * 3), 259: (3, (1,)), 262: (3, (2,)), 277: (3, (3,))}
        data = tiff("<", {**tags, 274: (3, (orientation,)), 278: (4, (2,))}, [stored.tobytes()])
        header = read_header(data, "a.tif")
        assert (header.height, header.width) == wanted.shape[:2], orientation
        assert np.array_equal(decoded(data, "a.tif"), wanted), orientation


# ---------------------------------------------------------------- TGA by hand

A, B, C, D = (1, 2, 3), (4, 5, 6), (7, 8, 9), (10, 11, 12)
STORED = bytes(v for color in (A, B, C, D) for v in reversed(color))  # blue first (TGA 2.0)


@pytest.mark.parametrize(
    ("descriptor", "rows"),
    [(0x00, [[C, D], [A, B]]), (0x10, [[D, C], [B, A]]), (0x20, [[A, B], [C, D]]), (0x30, [[B, A], [D, C]])],
)
def test_tga_origins(descriptor: int, rows: list) -> None:
    assert decoded(tga(2, 2, 24, STORED, descriptor=descriptor), "a.tga").tolist() == [
        [list(c) for c in r] for r in rows
    ]
    raw_packet = tga(2, 2, 24, b"\x03" + STORED, kind=10, descriptor=descriptor)
    assert decoded(raw_packet, "a.tga").tolist() == [[list(c) for c in r] for r in rows]


def test_tga_packets_across_rows() -> None:
    # a run of 3 and a raw packet of 3 over two rows of 3, top-left origin
    data = tga(3, 2, 8, bytes([0x81, 9, 0x03, 1, 2, 3, 4]), kind=11, descriptor=0x20)
    assert decoded(data, "a.tga")[:, :, 0].tolist() == [[9, 9, 1], [2, 3, 4]]
    data = tga(3, 2, 8, bytes([0x84, 9, 0x00, 1]), kind=11, descriptor=0x20)
    assert decoded(data, "a.tga")[:, :, 0].tolist() == [[9, 9, 9], [9, 9, 1]]


def test_tga_five_bit_colour_and_one_alpha_bit() -> None:
    word = 1 << 15 | 31 << 10 | 16 << 5 | 1  # alpha, red full, green 16, blue 1
    # 16 * 255 / 31 = 131.6, 255 / 31 = 8.2
    assert decoded(tga(1, 1, 16, struct.pack("<H", word), descriptor=1), "a.tga").tolist() == [[[255, 132, 8, 255]]]
    assert decoded(tga(1, 1, 16, struct.pack("<H", word)), "a.tga").tolist() == [[[255, 132, 8]]]


def test_tga_colour_map_that_begins_later() -> None:
    colors = bytes([3, 2, 1, 6, 5, 4])
    data = tga(2, 1, 8, bytes([10, 11]), kind=1, color_map=colors, map_first=10, map_bits=24)
    assert decoded(data, "a.tga").tolist() == [[[1, 2, 3], [4, 5, 6]]]
    beyond = tga(2, 1, 8, bytes([10, 12]), kind=1, color_map=colors, map_first=10, map_bits=24)
    with pytest.raises(UnreadableFile, match="not in the colour map"):
        decoded(beyond, "a.tga")


def test_tga_fourth_byte_without_alpha_bits_is_left_out_and_said() -> None:
    data = tga(1, 1, 32, bytes([3, 2, 1, 0]))
    assert decoded(data, "a.tga").tolist() == [[[1, 2, 3]]]
    assert "fourth channel" in decoding_notes(read_header(data, "a.tga"))[0]
    assert decoded(tga(1, 1, 32, bytes([3, 2, 1, 0]), descriptor=8), "a.tga").tolist() == [[[1, 2, 3, 0]]]


@pytest.mark.parametrize("length", range(1, 12))
def test_tga_packets_broken_off(length: int) -> None:
    packets = bytes([0x81, 9, 9, 9, 0x01, 1, 2, 3, 4, 5, 6])  # a run of 2 and 2 raw: a row of 4
    data = tga(4, 1, 24, packets[:length], kind=10)
    if length == len(packets):
        assert decoded(data, "a.tga").shape == (1, 4, 3)
    else:
        with pytest.raises(UnreadableFile):
            decoded(data, "a.tga")


# ---------------------------------------------------------------- nothing broken comes through


@pytest.mark.parametrize(
    ("format", "name", "mode", "options"),
    [
        ("PNG", "a.png", "RGB", {}),
        ("JPEG", "a.jpg", "RGB", {}),
        ("TGA", "a.tga", "RGB", {}),
        ("TGA", "a.tga", "RGB", {"compression": "tga_rle"}),
        ("TIFF", "a.tif", "RGB", {}),
        ("TIFF", "a.tif", "RGB", {"compression": "tiff_lzw"}),
        ("TIFF", "a.tif", "RGB", {"compression": "tiff_adobe_deflate"}),
        ("WEBP", "a.webp", "RGBA", {"lossless": True}),
        ("WEBP", "a.webp", "RGB", {}),
        ("BMP", "a.bmp", "P", {}),
        ("GIF", "a.gif", "P", {}),
        ("DDS", "a.dds", "RGBA", {}),
    ],
)
def test_every_truncation_length_is_refused_or_gives_the_whole_picture(
    format: str, name: str, mode: str, options: dict
) -> None:
    whole = saved(noise(mode, 9, 5), format, **options)
    wanted = decoded(whole, name)
    passed = 0
    for length in range(len(whole)):
        try:
            values = decoded(whole[:length], name)
        except UnreadableFile as error:
            assert error.path == name
        else:
            assert np.array_equal(values, wanted), length
            passed += 1
    # only padding and the footer of TGA are beyond the picture's own bytes
    assert passed <= (26 if format == "TGA" else 8 if format == "TIFF" else 0)


def test_a_header_read_before_the_file_was_cut(tmp_path: Path) -> None:
    for name, format in (("a.png", "PNG"), ("a.tga", "TGA"), ("a.tif", "TIFF"), ("a.bmp", "BMP"), ("a.webp", "WEBP")):
        whole = saved(noise("RGB", 40, 30), format)
        header = read_header(whole, name)
        (tmp_path / name).write_bytes(whole[: len(whole) // 2])
        with pytest.raises(UnreadableFile):
            decode(tmp_path / name, header)


def test_png_with_fewer_rows_than_stated_or_other_compressed_data() -> None:
    for values, color_type in ((np.array(noise("L"))[:, :, None], 0), (np.array(noise("RGB")), 2), (sixteen(4), 6)):
        depth = 8 * values.itemsize
        rows = png_rows(values, [0])
        stride = len(rows) // 7
        for cut in (rows[:-stride], rows[: -3 * stride], rows[:-1], rows[:1], b""):
            with pytest.raises(UnreadableFile):
                decoded(png(13, 7, depth, color_type, cut), "a.png")
        passes = png_interlaced_rows(values, [0])
        assert np.array_equal(decoded(png(13, 7, depth, color_type, passes, interlace=1), "a.png"), values)
        for cut in (passes[:-1], passes[:-stride], passes[: len(passes) // 2]):
            with pytest.raises(UnreadableFile):
                decoded(png(13, 7, depth, color_type, cut, interlace=1), "a.png")
    palette = chunk(b"PLTE", bytes(range(30, 36)))
    with pytest.raises(UnreadableFile, match="rows of pixels are missing"):
        decoded(png(2, 3, 8, 3, bytes([0, 1, 1, 0, 1, 0]), before=palette), "a.png")
    # rows that are truly zero are no missing rows
    assert not decoded(png(2, 3, 8, 0, bytes(9)), "a.png").any()
    good = png_rows(np.array(noise("L"))[:, :, None], [0])
    garbage = PNG_SIGNATURE + ihdr(13, 7, 8, 0) + chunk(b"IDAT", b"no zlib data") + chunk(b"IEND", b"")
    with pytest.raises(UnreadableFile):
        decoded(garbage, "a.png")
    odd_filter = bytes([9]) + good[1:]
    with pytest.raises(UnreadableFile):
        decoded(png(13, 7, 8, 0, odd_filter), "a.png")


def test_every_flipped_bit_of_png_pixels_is_caught() -> None:
    whole = saved(noise("L", 9, 5), "PNG")
    start = whole.index(b"IDAT")
    for at in range(start, len(whole) - 12):
        for bit in (0, 7):
            with pytest.raises(UnreadableFile):
                decoded(whole[:at] + bytes([whole[at] ^ 1 << bit]) + whole[at + 1 :], "a.png")


@pytest.mark.parametrize(
    ("name", "whole"),
    [
        ("a.png", saved(noise("P"), "PNG")),
        ("a.jpg", saved(noise("RGB"), "JPEG")),
        ("a.jpg", saved(noise("CMYK"), "JPEG", progressive=True)),
        ("a.tga", saved(noise("P"), "TGA", compression="tga_rle")),
        ("a.tif", saved(noise("RGB"), "TIFF", compression="tiff_lzw")),
        ("a.tif", tiff_rgb16(sixteen(3), "<", 8)),
        ("a.bmp", saved(noise("P"), "BMP")),
        ("a.webp", saved(noise("RGBA"), "WEBP")),
        ("a.gif", saved(noise("P"), "GIF")),
        ("a.dds", dds(8, 4, b"DXT5", 4, bytes(80))),
        ("a.psd", psd(np.array(noise("RGB")), layers=[psd_layer("base")], rle=True)),
        ("a.ora", openraster()),
    ],
)
def test_flipped_bits_never_crash_and_never_change_the_shape(name: str, whole: bytes) -> None:
    chance = random.Random(3)  # the same places every time
    limits = PixelLimits(decoded_bytes=1 << 24)
    for _ in range(250):
        changed = bytearray(whole)
        for _ in range(chance.choice((1, 1, 1, 4))):
            changed[chance.randrange(len(whole))] ^= 1 << chance.randrange(8)
        header = read_header(bytes(changed), name)
        try:
            values = decode(bytes(changed), header, limits, name=name)
        except UnreadableFile as error:
            assert error.what
        else:
            assert values.shape[:2] == (header.height, header.width)


@settings(max_examples=60, deadline=None)
@given(
    st.binary(max_size=200), st.sampled_from(["png", "jpg", "tga", "tif", "bmp", "webp", "psd", "gif", "dds", "ora"])
)
def test_any_bytes_at_all(data: bytes, suffix: str) -> None:
    header = read_header(data, f"a.{suffix}")
    try:
        values = decode(data, header, PixelLimits(decoded_bytes=1 << 20))
    except UnreadableFile:
        return
    assert values.shape[:2] == (header.height, header.width)


# ---------------------------------------------------------------- memory


def test_enormous_one_bit_picture_costs_nothing() -> None:
    # 60,000 x 60,000 at one bit: 450 MB of rows, all zero, in a file of half a megabyte; complete and correct
    whole = blank_png(60_000, 60_000, 1)
    assert len(whole) < 600_000
    header = read_header(whole, "sea.png")
    assert header.problem == ""
    tracemalloc.start()
    try:
        with pytest.raises(LimitExceeded) as caught:
            decode(whole, header, name="sea.png")
        assert tracemalloc.get_traced_memory()[1] < 100_000
    finally:
        tracemalloc.stop()
    assert "60,000 x 60,000" in caught.value.what
    assert "3,600,000,000 bytes" in caught.value.what
    assert caught.value.path == "sea.png"


def test_both_sides_of_the_memory_limit() -> None:
    data = saved(noise("RGB"), "PNG")
    header = read_header(data, "a.png")
    assert decoded_bytes(header) == 13 * 7 * 3 == decode(data, header, PixelLimits(273)).nbytes
    with pytest.raises(LimitExceeded):
        decode(data, header, PixelLimits(272))


def test_stated_bytes_are_those_of_the_array() -> None:
    for values in (sixteen(1), sixteen(3)):
        color_type = 0 if values.shape[2] == 1 else 2
        data = png(13, 7, 16, color_type, png_rows(values, [0]))
        assert decoded_bytes(read_header(data, "a.png")) == decoded(data, "a.png").nbytes
    data = saved(noise("P"), "PNG")
    assert decoded_bytes(read_header(data, "a.png")) == decoded(data, "a.png").nbytes


@pytest.mark.parametrize(("format", "name"), [("PNG", "a.png"), ("JPEG", "a.jpg"), ("TIFF", "a.tif"), ("TGA", "a.tga")])
def test_a_picture_that_fits_our_limit_is_not_measured_by_that_of_pillow(
    format: str, name: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    data = saved(noise("RGB"), format)
    monkeypatch.setattr(Image, "MAX_IMAGE_PIXELS", 10)
    with pytest.raises(Image.DecompressionBombError):
        Image.open(io.BytesIO(data))
    assert decoded(data, name).shape == (7, 13, 3)


# ---------------------------------------------------------------- no reader


@pytest.mark.parametrize(
    ("data", "name", "words"),
    [
        (exr(4, 4), "a.exr", "EXR"),
        (ktx2(4, 4, 1), "a.ktx2", "KTX2"),
        (dds(4, 4, b"DX10", 1, bytes(16), dx10=95), "a.dds", "bc6h"),
        (dds(4, 4, b"DX10", 1, bytes(16), dx10=200), "a.dds", "DXGI format 200"),
        (psd(np.zeros((2, 2, 3), np.uint16)), "a.psd", "PSD with 16 bits"),
        (psd(np.zeros((2, 2, 3), np.uint8), mode=9), "a.psd", "Lab"),
    ],
)
def test_no_reader(data: bytes, name: str, words: str) -> None:
    with pytest.raises(NoReader) as caught:
        decoded(data, name)
    assert words in caught.value.what
    assert caught.value.path == name
    assert caught.value.help


def test_problems_of_the_header_are_the_reason() -> None:
    for data, words in ((b"", "empty"), (b"<html>", "web page"), (saved(noise("L"), "PNG")[:50], "ends at byte 50")):
        with pytest.raises(UnreadableFile, match=words):
            decoded(data, "a.png")


def test_what_decoding_changes_is_said() -> None:
    assert "CMYK" in decoding_notes(read_header(saved(noise("CMYK"), "JPEG"), "a.jpg"))[0]
    frames = saved(noise("RGB"), "GIF", save_all=True, append_images=[noise("RGB", seed=2)])
    assert "2 frames" in decoding_notes(read_header(frames, "a.gif"))[0]
    assert decoding_notes(read_header(saved(noise("RGBA"), "PNG"), "a.png")) == ()


# ---------------------------------------------------------------- masters


@pytest.mark.parametrize("rle", [False, True])
def test_merged_picture_of_psd(rle: bool) -> None:
    for mode, alpha in (("RGB", False), ("RGBA", True)):
        values = np.array(noise(mode))
        data = psd(values, layers=[psd_layer("base"), psd_layer("wear")], merged_alpha=alpha, rle=rle)
        assert np.array_equal(merged_picture(data, read_header(data, "a.psd")), values)


def test_a_spare_channel_of_psd_is_no_alpha() -> None:
    values = np.array(noise("RGBA"))
    data = psd(values, layers=[psd_layer("base")])
    assert np.array_equal(merged_picture(data, read_header(data, "a.psd")), values[:, :, :3])


def test_merged_picture_of_openraster_and_first_page_of_tiff() -> None:
    data = openraster()
    assert np.array_equal(merged_picture(data, read_header(data, "a.ora")), np.array(noise("RGBA")))
    pages = saved(noise("RGB", seed=4), "TIFF", save_all=True, append_images=[noise("RGB", seed=5)])
    assert np.array_equal(merged_picture(pages, read_header(pages, "a.tif")), np.array(noise("RGB", seed=4)))


def test_master_without_a_merged_picture() -> None:
    for data, name in (
        (openraster(merged=None), "a.ora"),
        (psd(np.zeros((7, 13, 3), np.uint8), has_merged=False), "a.psd"),
    ):
        header = read_header(data, name)
        with pytest.raises(NoReader, match="without a flattened picture"):
            merged_picture(data, header, name=name)


def test_merged_openraster_picture_beyond_the_limit_is_not_unpacked() -> None:
    data = openraster()
    with pytest.raises(LimitExceeded):
        merged_picture(data, read_header(data, "a.ora"), PixelLimits(100))
