import io

import pytest
from PIL import Image, ImageCms

from tests.load.pictures import noise, saved
from tidegate.load.image_header import read_header


@pytest.mark.parametrize(("mode", "channels", "model"), [("L", 1, "grey"), ("RGB", 3, "ycbcr"), ("CMYK", 4, "cmyk")])
@pytest.mark.parametrize("progressive", [False, True])
def test_facts(mode: str, channels: int, model: str, progressive: bool) -> None:
    header = read_header(saved(noise(mode), "JPEG", progressive=progressive), "lantern.jpg")
    assert (header.format, header.width, header.height, header.problem) == ("jpeg", 13, 7, "")
    assert (header.channels, header.bits_per_channel, header.bits_per_pixel) == (channels, 8, 8 * channels)
    assert (header.color_model, header.compression, header.lossy) == (model, "dct", True)
    assert header.interlaced == progressive
    assert header.alpha_bits == 0


def test_statements_of_colour_and_orientation() -> None:
    exif = Image.Exif()
    exif[0x0112] = 8
    profile = ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes()
    data = saved(noise("RGB"), "JPEG", exif=exif, icc_profile=profile)
    header = read_header(data, "a.jpeg")
    assert header.orientation == 8
    assert ("Exif", "orientation 8") in header.color_chunks
    named = dict(header.color_chunks)["ICC"]
    assert "sRGB" in named
    assert dict(read_header(saved(noise("CMYK"), "JPEG"), "a.jpg").color_chunks)["Adobe"].startswith("transform")


def test_adobe_transform_zero_means_plain_rgb() -> None:
    data = saved(noise("RGB"), "JPEG", keep_rgb=True)
    assert read_header(data, "a.jpg").color_model == "rgb"


@pytest.mark.parametrize("progressive", [False, True])
def test_every_truncation_length_is_named_truncated(progressive: bool) -> None:
    whole = saved(noise("RGB", 40, 30), "JPEG", progressive=progressive)
    for length in range(1, len(whole)):
        header = read_header(whole[:length], "crate.jpg")
        assert (header.format, header.problem) == ("jpeg", "truncated"), length


def test_an_end_marker_inside_a_thumbnail_is_no_end() -> None:
    # Exif keeps a small JPEG in a segment; cutting right behind its end marker leaves a file that ends like a whole one
    thumbnail = saved(noise("L", 8, 8), "JPEG")
    segment = b"\xff\xe1" + (2 + 6 + len(thumbnail)).to_bytes(2, "big") + b"Exif\0\0" + thumbnail
    whole = saved(noise("RGB"), "JPEG")
    inside = whole[:2] + segment + whole[2:]
    assert read_header(inside, "a.jpg").problem == ""
    assert read_header(inside[: 2 + len(segment)], "a.jpg").problem == "truncated"


@pytest.mark.parametrize("progressive", [False, True])
@pytest.mark.parametrize("trail", [b"\0", b"\xff", b"end of roll", b"\xff" * 70000, b"x" * 200000])
def test_bytes_behind_the_end_are_no_problem(progressive: bool, trail: bytes) -> None:
    whole = saved(noise("RGB", 300, 300), "JPEG", progressive=progressive, quality=95)
    assert len(whole) > 65536  # more than one block of the search for the end marker
    assert read_header(whole + trail, "a.jpg").problem == ""
    assert read_header(whole[:-2] + trail, "a.jpg").problem == "truncated"


def test_damage() -> None:
    whole = saved(noise("L"), "JPEG")
    frame = whole.index(b"\xff\xc0")
    flat = whole[: frame + 5] + b"\0\0" + whole[frame + 7 :]
    assert read_header(flat, "a.jpg").problem == "damaged"
    assert "13 x 0" in read_header(flat, "a.jpg").problem_detail
    assert "marker" in read_header(whole[:2] + b"\xff\xe0\x00\x04ab" + b"junk" + whole[2:], "a.jpg").problem_detail
    no_frame = whole[:frame] + whole[whole.index(b"\xff\xda") :]
    assert "before a frame header" in read_header(no_frame, "a.jpg").problem_detail
    assert read_header(b"\xff\xd8\xff\xd9", "a.jpg").problem == "damaged"


def test_no_flipped_bit_crashes() -> None:
    whole = saved(noise("RGB"), "JPEG")
    for at in range(len(whole)):
        header = read_header(whole[:at] + bytes([whole[at] ^ 0x41]) + whole[at + 1 :], "a.jpg")
        assert header.problem in ("", "damaged", "truncated", "not-an-image")


def test_pillow_agrees_on_the_size_of_a_long_thin_picture() -> None:
    data = saved(noise("L", 8192, 1), "JPEG")
    header = read_header(data, "a.jpg")
    assert (header.width, header.height) == Image.open(io.BytesIO(data)).size == (8192, 1)
