import io
import struct

import numpy as np
import pytest
from PIL import Image, ImageCms

from tests.load.pictures import noise, saved, tiff, tiff_rgb16
from tidegate.load.image_header import read_header


@pytest.mark.parametrize(
    ("mode", "channels", "each", "alpha", "model", "sample"),
    [
        ("1", 1, 1, 0, "grey", "uint"),
        ("L", 1, 8, 0, "grey", "uint"),
        ("LA", 2, 8, 8, "grey", "uint"),
        ("P", 1, 8, 0, "palette", "uint"),
        ("RGB", 3, 8, 0, "rgb", "uint"),
        ("RGBA", 4, 8, 8, "rgb", "uint"),
        ("CMYK", 4, 8, 0, "cmyk", "uint"),
        ("I;16", 1, 16, 0, "grey", "uint"),
        ("F", 1, 32, 0, "grey", "float"),
    ],
)
@pytest.mark.parametrize(
    ("compression", "name"),
    [(None, "none"), ("tiff_lzw", "lzw"), ("tiff_adobe_deflate", "deflate"), ("packbits", "packbits")],
)
def test_facts(
    mode: str, channels: int, each: int, alpha: int, model: str, sample: str, compression: str | None, name: str
) -> None:
    options = {"compression": compression} if compression else {}
    header = read_header(saved(noise(mode), "TIFF", **options), "sign.tif")
    assert (header.format, header.width, header.height, header.problem) == ("tiff", 13, 7, "")
    assert (header.channels, header.bits_per_channel, header.bits_per_pixel) == (channels, each, channels * each)
    assert (header.alpha_bits, header.color_model, header.sample) == (alpha, model, sample)
    assert (header.compression, header.lossy, header.layers) == (name, False, 1)
    assert header.palette == (256 if mode == "P" else 0)


@pytest.mark.parametrize("order", ["<", ">"])
def test_true_depth_is_that_of_tag_258(order: str) -> None:
    # Pillow calls this picture 8-bit RGB; BitsPerSample (258) is 16 for each of three samples
    header = read_header(tiff_rgb16(np.zeros((7, 13, 3), np.uint16), order), "a.tif")
    assert (header.bits_per_channel, header.bits_per_pixel, header.channels) == (16, 48, 3)
    assert header.problem == ""


def test_pages_count_and_small_copies_do_not() -> None:
    pages = [noise("RGB", seed=seed) for seed in range(3)]
    assert read_header(saved(pages[0], "TIFF", save_all=True, append_images=pages[1:]), "a.tif").layers == 3
    data = bytearray(saved(pages[0], "TIFF", save_all=True, append_images=pages[1:], tiffinfo={254: 0}))
    entries = [at for at in range(len(data) - 12) if data[at : at + 8] == struct.pack("<HHI", 254, 4, 1)]
    assert len(entries) >= 1
    data[entries[-1] + 8] = 1  # the last page becomes a reduced-resolution copy (TIFF 6.0, NewSubfileType bit 0)
    assert read_header(bytes(data), "a.tif").layers == 2


def block(order: str, key: bytes, data: bytes) -> bytes:
    """A block of private tag 37724 in the byte order of the file, padded to four bytes."""
    names = b"8BIM" + key if order == ">" else b"8BIM"[::-1] + key[::-1]
    return names + struct.pack(order + "I", len(data)) + data + b"\0" * (-len(data) % 4)


def layered(order: str, content: bytes, line: bytes = b"layers of a test\0") -> bytes:
    """A TIFF of one page with private tag 37724, whose bytes stand behind the pixels."""
    plain = tiff(order, {**TAGS, 37724: (4, (0, 0))}, [bytes(4)])
    (at,) = struct.unpack_from(order + "I", plain, 4)
    (entries,) = struct.unpack_from(order + "H", plain, at)
    out = bytearray(plain + line + content)
    for entry in range(at + 2, at + 2 + 12 * entries, 12):
        if struct.unpack_from(order + "H", out, entry)[0] == 37724:
            struct.pack_into(order + "HII", out, entry + 2, 7, len(line) + len(content), len(plain))
    return bytes(out)


@pytest.mark.parametrize("order", ["<", ">"])
@pytest.mark.parametrize(
    ("key", "count", "layers"), [(b"Layr", 1, 1), (b"Layr", 2, 2), (b"Layr", -5, 5), (b"Lr16", 3, 3), (b"Lr32", 4, 4)]
)
def test_layers_of_the_private_block(order: str, key: bytes, count: int, layers: int) -> None:
    """Another block of three bytes stands before it, so the padding counts; a negative count is meant as its size."""
    content = block(order, b"Patt", b"abc") + block(order, key, struct.pack(order + "h", count) + bytes(6))
    header = read_header(layered(order, content), "a.tif")
    assert (header.layers, header.problem) == (layers, "")


def test_a_private_block_without_layers_leaves_the_pages() -> None:
    for content in (b"", block("<", b"Patt", b"abcd"), b"nothing that is known"):
        header = read_header(layered("<", content), "a.tif")
        assert (header.layers, header.problem) == (1, "")


def test_a_private_block_that_is_cut_off() -> None:
    whole = layered("<", block("<", b"Layr", struct.pack("<h", 3) + bytes(6)))
    for length in range(1, len(whole)):
        assert read_header(whole[:length], "a.tif").problem == "truncated", length


def test_a_private_block_whose_lengths_lead_nowhere() -> None:
    """A length beyond the block, and blocks of no length for ever: neither is followed."""
    far = struct.pack("<4s4sI", b"MIB8", b"ttaP", 0xFFFFFFF0)
    for content in (far, block("<", b"Patt", b"") * 5000, struct.pack("<4s4sI", b"MIB8", b"ryaL", 900) + bytes(2)):
        assert read_header(layered("<", content), "a.tif").layers == 1


def test_profile_orientation_and_photometric() -> None:
    profile = ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes()
    header = read_header(saved(noise("RGB"), "TIFF", icc_profile=profile, tiffinfo={274: 4}), "a.tif")
    assert header.orientation == 4
    assert header.origin == "bottom-left"
    assert header.color_chunks[0] == ("photometric", "2")
    assert "sRGB" in dict(header.color_chunks)["ICC"]


def test_every_truncation_length_is_named_truncated() -> None:
    for options in ({}, {"compression": "tiff_lzw"}):
        whole = saved(noise("RGB"), "TIFF", **options)
        for length in range(1, len(whole)):
            header = read_header(whole[:length], "crate.tif")
            assert header.format == "tiff", length
            # the last bytes may be padding; where a cut is not named, nothing the picture needs is gone
            if header.problem == "":
                assert np.array_equal(np.array(Image.open(io.BytesIO(whole[:length]))), np.array(noise("RGB")))
                assert length > len(whole) - 8
            else:
                assert header.problem == "truncated", length


def test_a_chain_of_pages_that_bites_its_tail() -> None:
    data = bytearray(saved(noise("L"), "TIFF"))
    (at,) = struct.unpack_from("<I", data, 4)
    (count,) = struct.unpack_from("<H", data, at)
    struct.pack_into("<I", data, at + 2 + 12 * count, at)
    header = read_header(bytes(data), "a.tif")
    assert header.problem == "damaged"
    assert "back into itself" in header.problem_detail


TAGS = {256: (4, (2,)), 257: (4, (2,)), 258: (3, (8,)), 259: (3, (1,)), 262: (3, (1,)), 277: (3, (1,)), 278: (4, (2,))}


@pytest.mark.parametrize(
    ("changes", "strips", "problem", "words"),
    [
        ({}, [bytes(4)], "", ""),
        ({}, [bytes(3)], "truncated", "3 of the 4 bytes"),
        ({256: (4, (0,))}, [bytes(4)], "damaged", "0 x 2"),
        ({277: (3, (99,))}, [bytes(4)], "damaged", "99 channels"),
        ({258: (3, (0,))}, [bytes(4)], "damaged", "0 bits"),
        ({262: (3, (77,))}, [bytes(4)], "damaged", "photometric interpretation 77"),
    ],
)
def test_directories_that_cannot_be(changes: dict, strips: list[bytes], problem: str, words: str) -> None:
    header = read_header(tiff("<", {**TAGS, **changes}, strips), "a.tif")
    assert header.problem == problem
    assert words in header.problem_detail


def test_big_tiff() -> None:
    data = saved(noise("RGBA"), "TIFF", big_tiff=True)
    assert data[2] == 43
    header = read_header(data, "a.tif")
    assert (header.width, header.height, header.alpha_bits, header.problem) == (13, 7, 8, "")


def test_no_flipped_byte_crashes() -> None:
    whole = saved(noise("LA", 3, 2), "TIFF", compression="tiff_lzw")
    for at in range(len(whole)):
        for mask in (0x01, 0x80, 0xFF):
            header = read_header(whole[:at] + bytes([whole[at] ^ mask]) + whole[at + 1 :], "a.tif")
            assert header.problem in ("", "damaged", "truncated", "not-an-image")
