"""Paths in an OpenRaster that is read: whatever a layer or a member is called, nothing but the file itself is opened."""

from __future__ import annotations

import io
import json
import subprocess
import sys
import zipfile
from pathlib import Path
from xml.sax.saxutils import quoteattr

import pytest

from tests.load.pictures import noise, openraster, saved
from tidegate.errors import UnreadableFile
from tidegate.load.image_header import read_header
from tidegate.load.pixels import merged_picture

STACK = '<image version="0.0.3" w="13" h="7"><stack><layer name="paint" src={}/></stack></image>'
OUTSIDE = [
    "../../secret.png",
    "data/../../secret.png",
    "/etc/passwd",
    "file:///etc/passwd",
    "C:\\secret.png",
    "\\\\server\\share\\secret.png",
    "http://localhost:1/secret.png",
    "",
]

# Everything Python opens, by its audit events; the files of the interpreter and its packages are left out.
WATCHED = """
import json, sys
from pathlib import Path
from tidegate.load.image_header import read_header
from tidegate.load.layers import read_layers
from tidegate.load.pixels import merged_picture
import PIL.Image
PIL.Image.init()
path = Path(sys.argv[1])
merged_picture(path, read_header(path, path.name))  # what is imported late is imported now
opened = []
sys.addaudithook(lambda event, args: opened.append((event, str(args[0]))) if event in
                 ("open", "os.listdir", "os.scandir", "socket.connect", "socket.getaddrinfo", "subprocess.Popen") else None)
header = read_header(path, path.name)
layers = [layer.name for layer in read_layers(path, header)]
size = merged_picture(path, header).shape
print(json.dumps([header.problem, layers, size, sorted(set(opened))]))
"""


def watched(path: Path) -> list[object]:
    ran = subprocess.run(
        [sys.executable, "-c", WATCHED, str(path)], capture_output=True, text=True, check=True, cwd=path.parent
    )
    told: list[object] = json.loads(ran.stdout)
    return told


@pytest.mark.parametrize("source", OUTSIDE)
def test_a_layer_that_points_outside_is_never_followed(tmp_path: Path, source: str) -> None:
    inner = tmp_path / "a" / "b"
    inner.mkdir(parents=True)
    for secret in (tmp_path / "secret.png", inner / "C:\\secret.png"):
        secret.write_bytes(saved(noise("RGBA"), "PNG"))
    path = inner / "crate.ora"
    path.write_bytes(openraster(STACK.format(quoteattr(source))))
    assert watched(path) == ["", ["paint"], [7, 13, 4], [["open", str(path)]]]


def test_where_only_a_layer_outside_would_show_a_picture_there_is_none(tmp_path: Path) -> None:
    (tmp_path / "secret.png").write_bytes(saved(noise("RGBA"), "PNG"))
    (tmp_path / "drop").mkdir()
    path = tmp_path / "drop" / "crate.ora"
    path.write_bytes(openraster(STACK.format('"../secret.png"'), merged=None))
    header = read_header(path, path.name)
    assert (header.problem, header.has_merged_picture) == ("", False)
    with pytest.raises(UnreadableFile):
        merged_picture(path, header)


@pytest.mark.parametrize("name", ["../mergedimage.png", "/mergedimage.png", "./mergedimage.png", "..\\mergedimage.png"])
def test_a_member_of_such_a_name_is_not_the_merged_picture(tmp_path: Path, name: str) -> None:
    out = io.BytesIO(openraster(merged=None))
    with zipfile.ZipFile(out, "a") as archive:
        archive.writestr(name, saved(noise("RGBA"), "PNG"))
    (tmp_path / "drop").mkdir()
    path = tmp_path / "drop" / "crate.ora"
    path.write_bytes(out.getvalue())
    assert not read_header(path, path.name).has_merged_picture
    assert sorted(each.name for each in tmp_path.rglob("*")) == ["crate.ora", "drop"], "nothing is unpacked to the disk"


def test_a_member_that_is_a_link_is_not_followed(tmp_path: Path) -> None:
    """A link in a ZIP is a member whose content is its target (APPNOTE 4.3.3 knows none; Info-ZIP marks it by mode 120777)."""
    (tmp_path / "secret.png").write_bytes(saved(noise("RGBA"), "PNG"))
    out = io.BytesIO(openraster(merged=None))
    with zipfile.ZipFile(out, "a") as archive:
        link = zipfile.ZipInfo("mergedimage.png")
        link.external_attr = 0o120777 << 16
        archive.writestr(link, "secret.png")
    path = tmp_path / "crate.ora"
    path.write_bytes(out.getvalue())
    assert read_header(path, path.name).problem != ""  # the target's name is no PNG
