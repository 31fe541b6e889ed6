"""Which format it is, and what it is when it is no picture."""

import pickle
from pathlib import Path

import pytest

from tests.load.pictures import noise, png, saved, tga
from tidegate.errors import UnreadableFile
from tidegate.load.headers.window import Window
from tidegate.load.image_header import SUFFIX_FORMATS, read_header, suffix_format

# Git LFS specification, "The Pointer"
POINTER = (
    b"version https://git-lfs.github.com/spec/v1\n"
    b"oid sha256:4d7a214614ab2935c943f9e0ff69d22eadbb8f32b1258daaa5e2ca24d17e2393\nsize 12345\n"
)


@pytest.mark.parametrize("name", ["a.png", "a.tga", "a.jpg", "a.psd", "a.exr", "a"])
def test_pointer_text(name: str) -> None:
    header = read_header(POINTER, name)
    assert (header.format, header.problem) == ("", "pointer-text")
    assert "12,345 bytes" in header.problem_detail
    annex = read_header(b"/annex/objects/SHA256E-s1048576--0a1b.png\n", name)
    assert annex.problem == "pointer-text"


@pytest.mark.parametrize("name", ["a.png", "a.tga", "a.psd", "a.txt"])
def test_zero_bytes(name: str) -> None:
    assert read_header(b"", name).problem == "zero-byte"


@pytest.mark.parametrize(
    ("data", "words"),
    [
        (b"<!DOCTYPE html><html><body>404</body></html>", "web page"),
        (b"\xef\xbb\xbf  <HTML>", "web page"),
        (b"<?xml version='1.0'?><svg xmlns='...'/>", "SVG"),
        (b"<?xml version='1.0'?><stack/>", "XML"),
        ("fischkiste, größe 2".encode(), "plain text"),
        (b"x" * 5000, "plain text"),
        (b"glTF\2\0\0\0", "GLB"),
        (b"%PDF-1.7", "PDF"),
        (b"P6\n2 2\n255\n............", "PNM"),
        (b"\0\0\0\x1cftypavif\0\0\0\0", "AVIF"),
        (b"\x93\x01\x02\x03\xfe" * 20, "no picture format"),
    ],
)
@pytest.mark.parametrize("name", ["a.png", "a.jpg", "a.bmp", "a.dds"])
def test_not_an_image(data: bytes, words: str, name: str) -> None:
    header = read_header(data, name)
    assert (header.format, header.problem) == ("", "not-an-image")
    assert words in header.problem_detail
    assert not header.readable


def test_a_web_page_named_tga_is_no_damaged_tga() -> None:
    assert read_header(b"<!doctype html><title>gone</title>", "a.tga").problem == "not-an-image"
    assert read_header(b"\x93\x01\x02\x03\xfe" * 20, "a.tga").problem == "damaged"


def test_a_file_made_at_its_length_and_not_filled() -> None:
    header = read_header(bytes(4096), "a.png")
    assert header.problem == "damaged"
    assert "zero" in header.problem_detail


def test_a_wrong_suffix_shows() -> None:
    header = read_header(saved(noise("RGB"), "PNG"), "Bollard.JPG")
    assert (header.format, header.suffix_format, header.problem) == ("png", "jpeg", "")
    assert (header.width, header.height) == (13, 7)
    assert read_header(saved(noise("RGB"), "JPEG"), "a.tga").format == "jpeg"


def test_suffixes() -> None:
    assert suffix_format("maps/Crate.base.TGA") == "tga"
    assert suffix_format("maps\\crate.Jpeg") == "jpeg"
    assert suffix_format("png") == ""
    assert suffix_format("crate.png.txt") == ""
    assert set(SUFFIX_FORMATS.values()) == {
        *("png", "jpeg", "tga", "tiff", "bmp", "webp", "psd", "exr", "ktx2", "dds", "gif", "openraster")
    }


def test_a_path_and_its_bytes_give_the_same(tmp_path: Path) -> None:
    for name, data in (("a.png", saved(noise("RGBA"), "PNG")), ("a.tga", tga(4, 2, 24, bytes(24)))):
        (tmp_path / name).write_bytes(data)
        assert read_header(tmp_path / name, name) == read_header(data, name)


def test_a_file_that_is_not_there(tmp_path: Path) -> None:
    with pytest.raises(UnreadableFile) as caught:
        read_header(tmp_path / "gone.png", "gone.png")
    assert caught.value.path == "gone.png"
    assert "No such file" in caught.value.came
    assert pickle.loads(pickle.dumps(caught.value)).path == "gone.png"


def test_a_folder_named_like_a_picture(tmp_path: Path) -> None:
    (tmp_path / "a.png").mkdir()
    with pytest.raises(UnreadableFile):
        read_header(tmp_path / "a.png", "a.png")


def test_a_large_picture_is_not_read_whole(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    # Random pixels: 3 MB of PNG and of TGA, of which the reader may touch a few blocks of 4 KiB.
    picture = noise("RGB", 1000, 1000)
    taken: list[int] = []
    fill = Window._fill

    def counted(self: Window, count: int) -> bytes:
        data = fill(self, count)
        taken.append(len(data))
        return data

    monkeypatch.setattr(Window, "_fill", counted)
    for name, format in (("a.png", "PNG"), ("a.tga", "TGA"), ("a.jpg", "JPEG"), ("a.bmp", "BMP"), ("a.tif", "TIFF")):
        taken.clear()
        (tmp_path / name).write_bytes(saved(picture, format))
        assert read_header(tmp_path / name, name).problem == ""
        assert sum(taken) <= 5 * 4096, name


def test_a_picture_of_one_bit_and_enormous_sides() -> None:
    header = read_header(png(60_000, 60_000, 1, 0, b"\0"), "a.png")
    assert (header.width, header.height, header.bits_per_pixel, header.problem) == (60_000, 60_000, 1, "")
