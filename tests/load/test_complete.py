import io
import struct
import zipfile
from pathlib import Path

import numpy as np
import pytest

from tests.load.pictures import dds, exr, ktx2, noise, openraster, psd, saved, tga
from tidegate.errors import UnreadableFile
from tidegate.load.complete import complete

RGB = noise("RGB")
PACKED = saved(RGB, "TGA", compression="tga_rle")
GLB = struct.pack("<4sII", b"glTF", 2, 32) + struct.pack("<I4s", 12, b"JSON") + b'{"asset":{}}'
STL = bytes(80) + struct.pack("<I", 2) + bytes(100)


def archive() -> bytes:
    stream = io.BytesIO()
    with zipfile.ZipFile(stream, "w") as packed:
        packed.writestr("crate.obj", "v 0 0 0\n" * 50)
        packed.comment = b"hand-over"
    return stream.getvalue()


WHOLE = {
    "a.png": saved(RGB, "PNG"),
    "a.jpg": saved(RGB, "JPEG"),
    "a.tga": tga(4, 2, 24, bytes(24)),
    "a.tif": saved(RGB, "TIFF", compression="tiff_lzw"),
    "a.bmp": saved(RGB, "BMP"),
    "a.webp": saved(RGB, "WEBP"),
    "a.gif": saved(RGB, "GIF"),
    "a.psd": psd(np.array(RGB)),
    "a.ora": openraster(),
    "a.exr": exr(3, 2),
    "a.ktx2": ktx2(4, 4, 2),
    "a.dds": dds(8, 4, b"DXT1", 4, bytes(40)),
    "a.glb": GLB,
    "a.zip": archive(),
    "a.stl": STL,
}


@pytest.mark.parametrize("name", WHOLE)
def test_whole_is_complete_and_every_shorter_length_is_not(name: str, tmp_path: Path) -> None:
    path = tmp_path / name
    whole = WHOLE[name]
    path.write_bytes(whole)
    assert complete(path) is True
    spare = 7 if name == "a.tif" else 0  # Pillow pads what it writes last
    last = len(whole) - spare
    for length in sorted({*range(0, last, 11), *range(max(0, last - 30), last)}):
        path.write_bytes(whole[:length])
        assert complete(path) is False, length


def test_a_name_in_capitals(tmp_path: Path) -> None:
    path = tmp_path / "CRATE.GLB"
    path.write_bytes(GLB[:-1])
    assert complete(path) is False


def test_packed_tga_tells_only_by_its_footer(tmp_path: Path) -> None:
    path = tmp_path / "a.tga"
    assert PACKED.endswith(b"TRUEVISION-XFILE.\0")
    path.write_bytes(PACKED)
    assert complete(path) is True
    path.write_bytes(PACKED[:-1])
    assert complete(path) is None
    path.write_bytes(PACKED[:20])
    assert complete(path) is False


@pytest.mark.parametrize("name", ["a.png", "a.jpg", "a.tif", "a.glb", "a.zip", "a.webp", "a.stl"])
def test_made_at_full_length_but_not_filled(name: str, tmp_path: Path) -> None:
    path = tmp_path / name
    path.write_bytes(bytes(5000))
    assert complete(path) is False


@pytest.mark.parametrize("name", ["a.png", "a.zip", "a.jpg"])
def test_filled_in_half(name: str, tmp_path: Path) -> None:
    whole = WHOLE[name]
    path = tmp_path / name
    path.write_bytes(whole[: len(whole) // 2].ljust(len(whole), b"\0"))
    assert complete(path) is False


def test_formats_that_cannot_tell(tmp_path: Path) -> None:
    for name, data in (("a.obj", b"v 0 0 0\n"), ("a.mtl", b"newmtl wood\n"), ("a.bin", b"\1"), ("notes", b"x")):
        (tmp_path / name).write_bytes(data)
        assert complete(tmp_path / name) is None, name
        (tmp_path / name).write_bytes(b"")
        assert complete(tmp_path / name) is False, name


def test_gltf_text_that_breaks_off(tmp_path: Path) -> None:
    path = tmp_path / "a.gltf"
    path.write_bytes(b'{"asset": {"version": "2.0"}}\n')
    assert complete(path) is None
    path.write_bytes(b'{"asset": {"version": "2.')
    assert complete(path) is False


def test_text_stl(tmp_path: Path) -> None:
    path = tmp_path / "a.stl"
    text = b"solid float\n" + b" facet normal 0 0 1\n endfacet\n" * 50 + b"endsolid float\n"
    path.write_bytes(text)
    assert complete(path) is True
    path.write_bytes(text[:-20])
    assert complete(path) is False


def test_what_is_no_picture_cannot_tell(tmp_path: Path) -> None:
    path = tmp_path / "a.png"
    path.write_bytes(b"<html>gone</html>")
    assert complete(path) is None


def test_a_file_that_is_not_there(tmp_path: Path) -> None:
    for name in ("a.png", "a.glb", "a.obj"):
        with pytest.raises(UnreadableFile):
            complete(tmp_path / name)
