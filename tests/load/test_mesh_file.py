"""One door to all mesh readers: by content first, by suffix then, and clear words for what has no reader."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from tests.support.gltf_writer import GltfBuilder
from tidegate.errors import LimitExceeded, NoReader, UnreadableFile
from tidegate.load.limits import ReadLimits
from tidegate.load.mesh_file import read_mesh
from tidegate.load.references import DropFolder

OBJ = b"v 0 0 0\nv 1 0 0\nv 0 0 2\nf 1 2 3\n"
PLY = (
    b"ply\nformat ascii 1.0\nelement vertex 3\nproperty float x\nproperty float y\nproperty float z\n"
    b"element face 1\nproperty list uchar int vertex_indices\nend_header\n0 0 0 1 0 0 0 0 2 3 0 1 2\n"
)
STL = (
    b"solid buoy\nfacet normal 0 0 1\nouter loop\nvertex 0 0 0\nvertex 1 0 0\nvertex 0 0 2\nendloop\nendfacet\n"
    b"endsolid buoy\n"
)


def glb() -> bytes:
    build = GltfBuilder()
    build.mesh("buoy", [(0, 0, 0), (1, 0, 0), (0, 0, 2)], np.array([0, 1, 2], np.uint16))
    return build.glb()


@pytest.mark.parametrize(
    ("name", "data", "wanted"),
    [
        ("buoy.glb", glb(), "glb"),
        ("BUOY.GLB", glb(), "glb"),
        ("buoy.obj", OBJ, "obj"),
        ("buoy.ply", PLY, "ply"),
        ("buoy.stl", STL, "stl"),
        ("buoy.obj", glb(), "glb"),  # what the bytes say counts more than the name
        ("buoy.stl", PLY, "ply"),
    ],
)
def test_the_reader_that_fits(tmp_path: Path, name: str, data: bytes, wanted: str) -> None:
    (tmp_path / name).write_bytes(data)
    mesh = read_mesh(DropFolder(tmp_path), name, unit=0.5, up_axis="z")
    assert (mesh.path, mesh.format, len(mesh.parts[0].triangles)) == (name, wanted, 1)
    # glTF states metres and Y up; the others take both from the caller: (0, 0, 2) -> (0, 2, 0) * 0.5
    corner = mesh.parts[0].positions[mesh.parts[0].triangles[0, 2]].tolist()
    assert corner == ([0, 0, 2] if wanted == "glb" else [0, 1, 0])


@pytest.mark.parametrize(
    ("name", "data", "words"),
    [
        ("buoy.fbx", b"Kaydara FBX Binary  \0", "no FBX reader"),
        ("buoy.obj", b"Kaydara FBX Binary  \0", "no FBX reader"),
        ("buoy.fbx", b"; FBX 7.4.0 project file\n", "no FBX reader"),
        ("buoy.DAE", b"<?xml version='1.0'?>", "no COLLADA reader"),
        ("buoy.usda", b"#usda 1.0\n", "no USD reader"),
        ("buoy.usdc", b"PXR-USDC", "no USD reader"),
        ("buoy.usdz", b"PK\x03\x04", "no USD reader"),
        ("buoy.usd", b"anything", "no USD reader"),
        ("buoy.3ds", b"MM", "no 3DS reader"),
        ("buoy.abc", b"Ogawa", "no Alembic reader"),
        ("buoy", b"anything", "no mesh format known here"),
        ("buoy.xyz", b"1 2 3", "no mesh format known here"),
    ],
)
def test_formats_without_a_reader(tmp_path: Path, name: str, data: bytes, words: str) -> None:
    (tmp_path / name).write_bytes(data)
    with pytest.raises(NoReader, match=words) as caught:
        read_mesh(DropFolder(tmp_path), name)
    assert caught.value.path == name
    assert "GLB" in caught.value.help


@pytest.mark.parametrize("name", ["empty.glb", "empty.gltf", "empty.obj", "empty.ply", "empty.stl"])
def test_zero_bytes(tmp_path: Path, name: str) -> None:
    (tmp_path / name).write_bytes(b"")
    with pytest.raises(UnreadableFile) as caught:
        read_mesh(DropFolder(tmp_path), name)
    assert caught.value.path == name
    assert "empty" in str(caught.value) or "zero" in str(caught.value)


def test_limits_reach_every_reader(tmp_path: Path) -> None:
    for name, data in (("a.glb", glb()), ("a.obj", OBJ), ("a.ply", PLY), ("a.stl", STL)):
        (tmp_path / name).write_bytes(data)
        with pytest.raises(LimitExceeded) as caught:
            read_mesh(DropFolder(tmp_path), name, limits=ReadLimits(file_bytes=len(data) - 1))
        assert caught.value.path == name


def test_outside_is_never_read(tmp_path: Path) -> None:
    (tmp_path / "drop").mkdir()
    (tmp_path / "buoy.glb").write_bytes(glb())
    with pytest.raises(UnreadableFile, match="outside"):
        read_mesh(DropFolder(tmp_path / "drop"), "../buoy.glb")
