"""Names out of a drop in what is drawn: SVG and OpenRaster stay well-formed, hold no tag of theirs, and lie where they should."""

from __future__ import annotations

import io
import os
import zipfile
from pathlib import Path
from xml.etree import ElementTree

import numpy as np
import pytest
from PIL import Image

from tests.gate.hostile_case import crate, good_map
from tests.support.command_line import tidegate
from tidegate.draw.openraster import Layer, openraster
from tidegate.draw.svg import Group, Words, svg
from tidegate.model.printable import printable

SVG = "{http://www.w3.org/2000/svg}"
NASTY = [
    "<script>alert(1)</script>",
    '"/><script>alert(1)</script><g id="',
    "' onload='alert(1)",
    '" onload="alert(1)',
    "]]></style><image href='file:///etc/passwd'/>",
    "&xxe;&#x3c;script>",
    "<!ENTITY xxe SYSTEM 'file:///etc/passwd'>",
    "--><script/>",
    "line\nbreak",
]
# XML 1.0, 2.2: none of these may stand in a document, not even as a reference.
FORBIDDEN = ["bell\x07", "esc\x1b[31m", "zero\0", "\ufffe", "lone \ud800", os.fsdecode(b"caf\xe9")]


def drawn(name: str) -> ElementTree.Element:
    group = Group(name, (1, 2, 3), 1.0, np.zeros((4, 1)))
    return ElementTree.fromstring(svg(8, 8, (255, 255, 255), [group], [Words(name, 4.0, 4.0, 3)], (0, 0, 0)))


@pytest.mark.parametrize("name", NASTY + FORBIDDEN)
def test_svg(name: str) -> None:
    root = drawn(name)
    assert [each.tag.removeprefix(SVG) for each in root.iter()] == ["svg", "rect", "g", "path", "g", "text"]
    assert {key for each in root.iter() for key in each.attrib} <= {
        *("width", "height", "viewBox", "id", "fill", "stroke", "stroke-width", "stroke-linecap", "d", "x", "y"),
        *("text-anchor", "font-family", "stroke-linejoin", "paint-order", "font-size"),
    }
    (text,) = root.iter(f"{SVG}text")
    assert text.text == printable(name)


@pytest.mark.parametrize("name", NASTY + FORBIDDEN)
def test_openraster(name: str) -> None:
    picture = np.zeros((2, 2, 4), np.uint8)
    with zipfile.ZipFile(io.BytesIO(openraster([Layer(name, picture)], picture))) as archive:
        root = ElementTree.fromstring(archive.read("stack.xml"))
    assert [each.tag for each in root.iter()] == ["image", "stack", "layer"]
    (layer,) = root.iter("layer")
    assert set(layer.attrib) == {"name", "src", "x", "y"} and layer.get("src") == "data/layer0.png"


@pytest.mark.parametrize("name", [NASTY[1], FORBIDDEN[1], FORBIDDEN[4], "../../out", "/etc/x", "C:\\x"])
def test_guide_sheets_of_a_mesh_with_such_names(tmp_path: Path, name: str) -> None:
    build = crate()
    for kind in ("meshes", "nodes", "materials"):
        build.json[kind][0]["name"] = name
    drop, out = tmp_path / "drop", tmp_path / "out"
    drop.mkdir()
    (drop / "furniture_crate.glb").write_bytes(build.glb())
    (drop / "crate_base_color.png").write_bytes(good_map())
    ran = tidegate("sheet", drop, "--as", "all", "--size", "64", "--out", out)
    assert ran.code == 0, ran.err
    files = sorted(path.relative_to(tmp_path).as_posix() for path in tmp_path.rglob("*") if path.is_file())
    made = [path for path in files if not path.startswith("drop/")]
    assert len(made) == 5 and all(path.startswith("out/") and path.count("/") == 1 for path in made)
    (vector,) = (tmp_path / path for path in made if path.endswith(".svg"))
    tags = {each.tag for each in ElementTree.fromstring(vector.read_bytes()).iter()}
    assert tags <= {SVG + tag for tag in ("svg", "rect", "g", "title", "path", "text")}
    (layered,) = (tmp_path / path for path in made if path.endswith(".ora"))
    with zipfile.ZipFile(layered) as archive:
        assert {each.tag for each in ElementTree.fromstring(archive.read("stack.xml")).iter()} == {
            "image",
            "stack",
            "layer",
        }


def test_a_map_of_such_a_name(tmp_path: Path) -> None:
    """The map names the sheet; here it is a file with quotes and brackets in its name."""
    name = "crate <b> \"x\" 'y' &amp; base_color.png"
    build = crate(base_color=name)
    (tmp_path / "furniture_crate.glb").write_bytes(build.glb())
    (tmp_path / name).write_bytes(good_map())
    ran = tidegate("sheet", tmp_path / "furniture_crate.glb", "--as", "svg", "--as", "png", "--out", tmp_path / "out")
    assert ran.code == 0, ran.err
    for path in (tmp_path / "out").iterdir():
        assert not set(path.name) & set("<>\"'&")
        if path.suffix == ".svg":
            ElementTree.fromstring(path.read_bytes())
        else:
            with Image.open(path) as picture:
                assert picture.size == (64, 64)
