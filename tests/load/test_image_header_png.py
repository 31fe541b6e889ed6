import struct
import zlib

import pytest

from tests.load.pictures import PNG_SIGNATURE, chunk, ihdr, noise, png, saved
from tidegate.load.image_header import read_header

# PNG Third Edition, 11.2.1 table 8: every allowed pair of colour type and bit depth.
ALLOWED = {0: (1, 2, 4, 8, 16), 2: (8, 16), 3: (1, 2, 4, 8), 4: (8, 16), 6: (8, 16)}
CHANNELS = {0: 1, 2: 3, 3: 1, 4: 2, 6: 4}
PALETTE = chunk(b"PLTE", bytes(range(6)))


@pytest.mark.parametrize("color_type", range(8))
@pytest.mark.parametrize("depth", [0, 1, 2, 3, 4, 8, 16, 32])
def test_every_pair_of_colour_type_and_depth(color_type: int, depth: int) -> None:
    # pixel data of no meaning: a header is read without it
    data = png(5, 3, depth, color_type, b"not pixels", before=PALETTE if color_type == 3 else b"")
    header = read_header(data, "bollard.png")
    if depth in ALLOWED.get(color_type, ()):
        assert header.problem == ""
        assert (header.width, header.height) == (5, 3)
        assert header.channels == CHANNELS[color_type]
        assert header.bits_per_channel == depth
        assert header.bits_per_pixel == depth * CHANNELS[color_type]
        assert header.alpha_bits == (depth if color_type in (4, 6) else 0)
        assert header.palette == (2 if color_type == 3 else 0)
        assert header.compression == "deflate"
        assert not header.lossy
    else:
        assert header.problem == "damaged"
        assert f"bit depth {depth} with colour type {color_type}" in header.problem_detail


def test_colour_statements_come_in_file_order_with_their_values() -> None:
    # 4.3 and 11.3.2: values of sRGB as the standard gives them
    chrm = chunk(b"cHRM", struct.pack(">8I", 31270, 32900, 64000, 33000, 30000, 60000, 15000, 6000))
    before = chunk(b"sBIT", bytes([5, 6, 5])) + chunk(b"gAMA", struct.pack(">I", 45455)) + chrm
    before += chunk(b"sRGB", b"\0") + chunk(b"iCCP", b"Harbour light\0\0" + zlib.compress(b"profile"))
    before += chunk(b"cICP", bytes([1, 13, 0, 1]))
    header = read_header(png(1, 1, 8, 2, b"\0\1\2\3", before=before), "a.png")
    assert header.color_chunks == (
        ("sBIT", "5,6,5"),
        ("gAMA", "45455"),
        ("cHRM", "31270,32900,64000,33000,30000,60000,15000,6000"),
        ("sRGB", "perceptual"),
        ("iCCP", "Harbour light"),
        ("cICP", "1,13,0,1"),
    )


@pytest.mark.parametrize(("intent", "word"), [(0, "perceptual"), (1, "relative"), (2, "saturation"), (3, "absolute")])
def test_rendering_intents(intent: int, word: str) -> None:
    header = read_header(png(1, 1, 8, 0, b"\0\0", before=chunk(b"sRGB", bytes([intent]))), "a.png")
    assert header.color_chunks == (("sRGB", word),)


def test_transparency_of_a_palette_and_of_one_colour() -> None:
    indexed = read_header(png(1, 1, 8, 3, b"\0\0", before=PALETTE + chunk(b"tRNS", b"\x80")), "a.png")
    assert (indexed.palette_alpha, indexed.alpha_bits, indexed.palette) == (True, 0, 2)
    keyed = read_header(png(1, 1, 8, 2, b"\0\0\0\0", before=chunk(b"tRNS", bytes([0, 1, 0, 2, 0, 3]))), "a.png")
    assert (keyed.palette_alpha, keyed.alpha_bits) == (False, 1)
    assert keyed.color_chunks == (("tRNS", "1 2 3"),)


def test_suggested_palette_of_a_true_colour_picture_is_no_palette() -> None:
    assert read_header(png(1, 1, 8, 2, b"\0\0\0\0", before=PALETTE), "a.png").palette == 0


def test_interlace_orientation_and_frames() -> None:
    exif = b"MM\0*\0\0\0\x08\0\x01\x01\x12\0\x03\0\0\0\x01\0\x06\0\0\0\0\0\0"
    before = chunk(b"eXIf", exif) + chunk(b"acTL", struct.pack(">II", 4, 0))
    header = read_header(png(1, 1, 8, 0, b"\0\0", before=before, interlace=1), "a.png")
    assert (header.interlaced, header.orientation, header.frames) == (True, 6, 4)


def test_every_truncation_length_is_named_truncated() -> None:
    whole = saved(noise("RGBA"), "PNG")
    assert read_header(whole, "crate.png").problem == ""
    for length in range(1, len(whole)):
        header = read_header(whole[:length], "crate.png")
        assert (header.format, header.problem) == ("png", "truncated"), length
        assert header.width == (13 if length >= 33 else 0), length


def test_bytes_behind_the_end_are_no_problem_but_a_missing_end_is() -> None:
    whole = saved(noise("L"), "PNG")
    assert read_header(whole + b"trailing notes", "a.png").problem == ""
    assert read_header(whole[:-12] + bytes(20), "a.png").problem == "damaged"


def test_zero_and_huge_sizes() -> None:
    for width, height in ((0, 4), (4, 0), (1 << 31, 4)):
        header = read_header(png(width, height, 8, 0, b"\0"), "a.png")
        assert header.problem == "damaged"
        assert f"{width} x {height}" in header.problem_detail
    assert read_header(png((1 << 31) - 1, 1, 8, 0, b"\0"), "a.png").problem == ""


def test_checksum_of_the_header_and_of_the_palette() -> None:
    whole = bytearray(png(4, 4, 8, 3, b"\0", before=PALETTE))
    for at, name in ((19, "IHDR"), (41, "PLTE")):
        changed = bytes(whole[:at]) + bytes([whole[at] ^ 1]) + bytes(whole[at + 1 :])
        header = read_header(changed, "a.png")
        assert header.problem == "damaged"
        assert f"checksum of the {name} chunk" in header.problem_detail


def test_missing_parts() -> None:
    start = PNG_SIGNATURE + ihdr(1, 1, 8, 0)
    assert "no IDAT" in read_header(start + chunk(b"IEND", b""), "a.png").problem_detail
    no_palette = read_header(png(1, 1, 8, 3, b"\0\0"), "a.png")
    assert no_palette.problem == "damaged"
    assert "PLTE" in no_palette.problem_detail
    unknown = read_header(png(1, 1, 8, 0, b"\0\0", before=chunk(b"QUAY", b"")), "a.png")
    assert unknown.problem == "damaged"
    assert read_header(png(1, 1, 8, 0, b"\0\0", before=chunk(b"quAy", b"")), "a.png").problem == ""


def test_no_flipped_bit_goes_without_a_header() -> None:
    whole = png(3, 2, 8, 2, b"\0" * 20, before=chunk(b"gAMA", struct.pack(">I", 45455)))
    for at in range(len(whole)):
        for bit in range(8):
            changed = whole[:at] + bytes([whole[at] ^ 1 << bit]) + whole[at + 1 :]
            header = read_header(changed, "a.png")
            assert header.problem in ("", "damaged", "truncated", "not-an-image")
            if header.problem == "":  # only the pixels, the tail of the checksum chain, or a chunk now unknown changed
                assert (header.width, header.height, header.bits_per_pixel) == (3, 2, 24)
