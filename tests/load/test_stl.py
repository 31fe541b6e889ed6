"""STL, text and binary, against trimesh's own writer, and every way to be cut off."""

from __future__ import annotations

import struct
from pathlib import Path

import numpy as np
import pytest
import trimesh

from tidegate.errors import LimitExceeded, UnreadableFile
from tidegate.load.limits import ReadLimits
from tidegate.load.references import DropFolder
from tidegate.load.stl import read_stl
from tidegate.model.mesh import MeshFile

FACET = "facet normal 0 0 1\n outer loop\n  vertex 0 0 0\n  vertex 1 0 0\n  vertex 0 {0} 0\n endloop\nendfacet\n"


def solid(name: str, height: float = 1.0) -> str:
    return f"solid {name}\n{FACET.format(height)}endsolid {name}\n"


def binary(*heights: float, title: bytes = b"net float") -> bytes:
    rows = [struct.pack("<12fH", 0, 0, 1, 0, 0, 0, 1, 0, 0, 0, h, 0, 0) for h in heights]
    return title.ljust(80, b"\0") + struct.pack("<I", len(rows)) + b"".join(rows)


def read(tmp_path: Path, data: bytes, **more: object) -> MeshFile:
    (tmp_path / "float.stl").write_bytes(data)
    return read_stl(DropFolder(tmp_path), "float.stl", **more)


@pytest.mark.parametrize("form", ["stl", "stl_ascii"])
def test_agrees_with_trimesh(tmp_path: Path, form: str) -> None:
    ball = trimesh.creation.icosphere(subdivisions=2)
    exported = ball.export(file_type=form)
    mesh = read(tmp_path, exported if isinstance(exported, bytes) else exported.encode())
    part = mesh.parts[0]
    assert part.triangles.shape == (320, 3)
    assert np.allclose(part.positions[part.triangles], ball.triangles, atol=1e-6)
    assert (part.uv_layers, part.material, mesh.materials, mesh.references) == ((), -1, (), ())


def test_solids_are_parts_and_keep_their_names(tmp_path: Path) -> None:
    mesh = read(tmp_path, (solid("Rope end", 3) + solid("Float") + solid("Float", 2)).encode(), unit=0.001)
    assert [(part.mesh, part.positions[2, 1]) for part in mesh.parts] == [
        ("Float", 0.001),
        ("Float", 0.002),
        ("Rope end", 0.003),
    ]


def test_a_binary_file_may_start_with_solid(tmp_path: Path) -> None:
    assert read(tmp_path, binary(1, 2, title=b"solid net float")).parts[0].triangles.shape == (2, 3)


def test_unit_and_up_axis(tmp_path: Path) -> None:
    part = read(tmp_path, binary(3), unit=0.5, up_axis="z").parts[0]
    assert part.positions[2].tolist() == [0, 0, -1.5]


def test_every_truncation_is_refused(tmp_path: Path) -> None:
    for data in (binary(1, 2), solid("float").encode()):
        whole = len(data.rstrip())
        for length in range(whole):
            if data[:length].endswith(b"endsolid") or b"endsolid" in data[:length]:
                continue  # only the closing name is cut: nothing is lost
            with pytest.raises(UnreadableFile) as caught:
                read(tmp_path, data[:length])
            assert caught.value.path == "float.stl"


@pytest.mark.parametrize(
    ("data", "words"),
    [
        (b"", "empty"),
        (b"version https://host/spec/v1\noid sha256:00\nsize 12\n", "pointer text"),
        (b"solid a\n" + FACET.format(1).encode(), "cut off"),
        (solid("a").replace("  vertex 1 0 0\n", "").encode(), "damaged"),
        (solid("a").replace("1 0 0", "1 zero 0").encode(), "damaged"),
        (solid("a").replace("1 0 0", "1 0").encode(), "damaged"),
        (solid("a").encode() + b"solid b\nfacet", "cut off"),
        (b"\x89PNG\r\n\x1a\n" + b"\0" * 30, "no STL"),
    ],
)
def test_hostile(tmp_path: Path, data: bytes, words: str) -> None:
    with pytest.raises(UnreadableFile, match=words):
        read(tmp_path, data)


def test_damaged_normals_cost_nothing(tmp_path: Path, caplog: pytest.LogCaptureFixture) -> None:
    part = read(tmp_path, solid("float").replace("normal 0 0 1", "normal x nan").encode()).parts[0]
    assert part.positions.tolist() == [[0, 0, 0], [1, 0, 0], [0, 1, 0]]
    assert caplog.records == []


def test_nothing_silent(tmp_path: Path) -> None:
    assert [(n.code, n.level) for n in read(tmp_path, binary()).notes] == [("no-triangles", "error")]
    assert [(n.code, n.level) for n in read(tmp_path, binary(float("nan"))).notes] == [("bad-positions", "error")]
    assert [n.code for n in read(tmp_path, binary(1) + b"tail").notes] == ["bytes-after-end"]


def test_limit_has_two_sides(tmp_path: Path) -> None:
    assert len(read(tmp_path, binary(1, 2), limits=ReadLimits(triangles=2)).parts[0].triangles) == 2
    with pytest.raises(LimitExceeded):
        read(tmp_path, binary(1, 2), limits=ReadLimits(triangles=1))
