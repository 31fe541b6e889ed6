"""PSD and OpenRaster: headers and layers."""

import numpy as np
import pytest

from tests.load.pictures import STACK, noise, openraster, png, psd, psd_layer, saved
from tidegate.errors import UnreadableFile
from tidegate.load.image_header import read_header
from tidegate.load.layers import read_layers
from tidegate.model.image_header import ImageLayer

RGB = np.zeros((7, 13, 3), np.uint8)
# Stored bottom first. From the top: a layer, a hidden folder with one layer, a half-clear layer.
LAYERS = [
    psd_layer("base", opacity=51),
    psd_layer("</Layer group>", group=3),
    psd_layer("guide sheet"),
    psd_layer("guides", visible=False, group=1),
    psd_layer("Salzränder 塩"),
]
FROM_THE_TOP = (
    ImageLayer("Salzränder 塩", True, 1.0),
    ImageLayer("guide sheet", False, 1.0),
    ImageLayer("base", True, 0.2),
)


@pytest.mark.parametrize("rle", [False, True])
def test_psd(rle: bool) -> None:
    whole = psd(RGB, layers=LAYERS, rle=rle)
    header = read_header(whole, "bollard.psd")
    assert (header.format, header.width, header.height, header.problem) == ("psd", 13, 7, "")
    assert (header.channels, header.bits_per_channel, header.bits_per_pixel) == (3, 8, 24)
    assert (header.layers, header.compression, header.has_merged_picture) == (5, "rle" if rle else "none", True)
    assert read_layers(whole, header) == FROM_THE_TOP
    for length in range(1, len(whole)):
        assert read_header(whole[:length], "bollard.psd").problem == "truncated", length


def test_psd_alpha_depth_and_missing_merged_picture() -> None:
    rgba = np.zeros((7, 13, 4), np.uint8)
    assert read_header(psd(rgba, layers=LAYERS, merged_alpha=True), "a.psd").alpha_bits == 8
    assert read_header(psd(rgba, layers=LAYERS), "a.psd").alpha_bits == 0  # a spare channel, such as a saved selection
    deep = read_header(psd(RGB.astype(np.uint16)), "a.psd")
    assert (deep.bits_per_channel, deep.bits_per_pixel, deep.layers) == (16, 48, 0)
    assert not read_header(psd(RGB, has_merged=False), "a.psd").has_merged_picture


def test_psd_damage() -> None:
    whole = psd(RGB)
    for at, value, words in ((13, 0, "0 channels"), (23, 5, "of 5 bits"), (25, 6, "colour mode 6"), (21, 0, "0 x 7")):
        header = read_header(whole[:at] + bytes([value]) + whole[at + 1 :], "a.psd")
        assert header.problem == "damaged", at
        assert words in header.problem_detail


def test_openraster() -> None:
    whole = openraster()
    header = read_header(whole, "crate.ora")
    assert (header.format, header.width, header.height, header.problem) == ("openraster", 13, 7, "")
    assert (header.channels, header.alpha_bits, header.bits_per_pixel, header.layers) == (4, 8, 32, 3)
    assert header.has_merged_picture
    assert read_layers(whole, header) == (
        ImageLayer("rope wear", True, 0.5),
        ImageLayer("guide sheet", False, 1.0),
        ImageLayer("base", True, 1.0),
    )
    for length in range(1, len(whole)):
        cut = read_header(whole[:length], "crate.ora")
        assert (cut.format, cut.problem) == ("openraster", "truncated"), length


def test_openraster_without_a_merged_picture() -> None:
    header = read_header(openraster(merged=None), "a.ora")
    assert (header.problem, header.has_merged_picture, header.width) == ("", False, 13)


@pytest.mark.parametrize(
    ("stack", "words"),
    [
        ("<image w='13' h='7'><stack>", "not well-formed"),
        ("<stack/>", "<stack>"),
        ("<image w='wide' h='7'/>", "no width"),
        ("<image h='7'/>", "no width"),
        ("<image w='0' h='7'/>", "0 x 7"),
        ("<image w='14' h='7'/>", "13 x 7, not the stack's size"),
        ('<!DOCTYPE image [<!ENTITY a "aaaa">]><image w="13" h="7" name="&a;"/>', "document type"),
        ("<!<!----DOCTYPE image><image w='13' h='7'/>", "document type"),
        (STACK.encode("utf-16").decode("latin-1"), "UTF-8"),
        ("<image w='13' h='7'>" + "<stack>" * 200 + "</stack>" * 200 + "</image>", "deep"),
    ],
)
def test_openraster_with_a_bad_stack(stack: str, words: str) -> None:
    header = read_header(openraster(stack), "a.ora")
    assert header.problem == "damaged"
    assert words in header.problem_detail


def test_openraster_stack_of_unreasonable_length_is_not_unpacked() -> None:
    header = read_header(openraster(STACK + " " * (2 << 20)), "a.ora")
    assert header.problem == "too-large"
    assert "stack.xml" in header.problem_detail


def test_openraster_merged_picture_that_is_none() -> None:
    header = read_header(openraster(merged=png(13, 7, 3, 6, b"")), "a.ora")
    assert header.problem == "damaged"


def test_an_ordinary_archive_named_ora() -> None:
    header = read_header(openraster(mimetype=b"application/zip!"), "a.ora")
    assert (header.format, header.problem) == ("", "not-an-image")
    assert "ZIP" in header.problem_detail


def test_no_flipped_byte_crashes() -> None:
    for name, whole in (("a.psd", psd(RGB[:2, :3], layers=LAYERS)), ("a.ora", openraster())):
        for at in range(len(whole)):
            changed = whole[:at] + bytes([whole[at] ^ 0xFF]) + whole[at + 1 :]
            header = read_header(changed, name)
            assert header.problem in ("", "damaged", "truncated", "not-an-image", "too-large")
            try:
                read_layers(changed, header)
            except UnreadableFile as error:
                assert error.what == "the layers cannot be read"


def test_formats_without_named_layers_have_none() -> None:
    data = saved(noise("RGB"), "TIFF")
    assert read_layers(data, read_header(data, "a.tif")) == ()
