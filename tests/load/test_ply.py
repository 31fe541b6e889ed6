"""PLY: polygons, UVs of vertices and of faces, and refusal of everything that is cut off."""

from __future__ import annotations

import struct
from pathlib import Path

import numpy as np
import pytest
import trimesh

from tidegate.errors import LimitExceeded, UnreadableFile
from tidegate.load.limits import ReadLimits
from tidegate.load.ply import read_ply
from tidegate.load.references import DropFolder
from tidegate.model.mesh import MeshFile

# A flat fish crate lid: a square and, on its upper edge, a triangle.
LID = [(0, 0, 0), (2, 0, 0), (2, 2, 0), (0, 2, 0), (1, 3, 0)]
VERTICES = "property float x\nproperty float y\nproperty float z\n"


def header(form: str, vertices: int, faces: int, *, vertex: str = VERTICES, face: str = "", comment: str = "") -> bytes:
    return (
        f"ply\nformat {form} 1.0\n{comment}element vertex {vertices}\n{vertex}element face {faces}\n"
        f"property list uchar int vertex_indices\n{face}end_header\n"
    ).encode()


def text(rows: list[tuple[float, ...]]) -> bytes:
    return "".join(" ".join(map(str, row)) + "\n" for row in rows).encode()


def read(tmp_path: Path, data: bytes, **more: object) -> MeshFile:
    (tmp_path / "lid.ply").write_bytes(data)
    return read_ply(DropFolder(tmp_path), "lid.ply", **more)


def binary_lid(order: str = "<") -> bytes:
    body = b"".join(struct.pack(order + "3f", *v) for v in LID)
    body += struct.pack(order + "B4i", 4, 0, 1, 2, 3) + struct.pack(order + "B3i", 3, 3, 2, 4)
    return header("binary_little_endian" if order == "<" else "binary_big_endian", 5, 2) + body


@pytest.mark.parametrize("form", ["ascii", "little", "big"])
def test_polygons_of_several_sizes_stay_whole(tmp_path: Path, form: str) -> None:
    if form == "ascii":
        data = header("ascii", 5, 2) + text(LID) + b"4 0 1 2 3\n3 3 2 4\n"
    else:
        data = binary_lid("<" if form == "little" else ">")
    part = read(tmp_path, data).parts[0]
    assert part.positions.tolist() == [list(map(float, v)) for v in LID]
    assert part.triangles.tolist() == [[0, 1, 2], [0, 2, 3], [3, 2, 4]]
    assert part.polygon is not None
    assert part.polygon.tolist() == [0, 0, 1]
    assert part.polygon_corners is not None
    assert part.polygon_corners.tolist() == [4, 3]
    assert part.material == -1
    assert part.uv_layers == ()


def test_every_truncation_is_refused(tmp_path: Path) -> None:
    data = binary_lid()
    for length in range(len(data)):
        with pytest.raises(UnreadableFile) as caught:
            read(tmp_path, data[:length])
        assert caught.value.path == "lid.ply"
    assert not read(tmp_path, data).notes
    assert [note.code for note in read(tmp_path, data + b"x").notes] == ["bytes-after-end"]


def test_uvs_of_vertices_and_of_faces(tmp_path: Path) -> None:
    vertex = VERTICES + "property float s\nproperty float t\n"
    rows = [(*v, v[0] / 2, v[1] / 3) for v in LID]
    face = "property list uchar float texcoord\n"
    faces = b"4 0 1 2 3 8 0 0 .5 0 .5 .5 0 .5\n3 3 2 4 0\n"
    data = (
        header("ascii", 5, 2, vertex=vertex, face=face, comment="comment TextureFile fish crate.png\n")
        + text(rows)
        + faces
    )
    (tmp_path / "fish crate.png").write_bytes(b"x")
    mesh = read(tmp_path, data)
    by_face, by_vertex = mesh.parts[0].uv_layers
    assert (by_face.name, by_vertex.name) == ("texcoord", "s t")
    # The square carries its own UVs, the triangle none.
    assert by_face.uv[by_face.triangles[:2]].tolist() == [
        [[0, 0], [0.5, 0], [0.5, 0.5]],
        [[0, 0], [0.5, 0.5], [0, 0.5]],
    ]
    assert by_face.triangles[2].tolist() == [-1, -1, -1]
    assert by_vertex.uv[by_vertex.triangles[2]].tolist() == [[0, 2 / 3], [1, 2 / 3], [0.5, 1]]
    assert [(ref.text, ref.status) for ref in mesh.references] == [("fish crate.png", "present")]
    assert (mesh.materials[0].slots[0].slot, mesh.materials[0].slots[0].reference) == ("base_color", 0)
    assert mesh.parts[0].material == 0


def test_faces_of_two_textures_are_two_parts(tmp_path: Path) -> None:
    comment = "comment TextureFile a.png\ncomment TextureFile b.png\n"
    data = (
        header("ascii", 5, 2, face="property int texnumber\n", comment=comment)
        + text(LID)
        + b"4 0 1 2 3 1\n3 3 2 4 0\n"
    )
    parts = read(tmp_path, data).parts
    assert [(part.material, len(part.triangles)) for part in parts] == [(0, 1), (1, 2)]


def test_unit_and_up_axis(tmp_path: Path) -> None:
    mesh = read(tmp_path, binary_lid(), unit=0.01, up_axis="z")
    # Z up: (1, 3, 0) cm -> (x, z, -y) = (0.01, 0, -0.03) m
    assert np.allclose(mesh.parts[0].positions[4], (0.01, 0.0, -0.03), atol=1e-15)
    assert (mesh.unit, mesh.unit_stated, mesh.up_axis) == (0.01, False, "z")


def test_colours_and_normals(tmp_path: Path) -> None:
    vertex = VERTICES + "property float nx\nproperty float ny\nproperty float nz\n"
    vertex += "property uchar red\nproperty uchar green\nproperty uchar blue\n"
    data = header("ascii", 5, 1, vertex=vertex) + text([(*v, 0, 0, 1, 255, 51, 0) for v in LID]) + b"3 0 1 2\n"
    part = read(tmp_path, data, up_axis="z").parts[0]
    assert part.colors is not None
    assert part.colors[0].tolist() == [1.0, 0.2, 0.0]
    assert part.normals is not None
    assert part.normals[0].tolist() == [0, 1, 0]


@pytest.mark.parametrize("encoding", ["ascii", "binary"])
def test_agrees_with_trimesh(tmp_path: Path, encoding: str) -> None:
    float_ball = trimesh.creation.icosphere(subdivisions=2)
    part = read(tmp_path, float_ball.export(file_type="ply", encoding=encoding)).parts[0]
    assert len(part.triangles) == 320
    assert np.allclose(part.positions[part.triangles], float_ball.triangles, atol=1e-6)


@pytest.mark.parametrize(
    ("data", "words"),
    [
        (b"", "empty"),
        (b"version https://host/spec/v1\noid sha256:00\nsize 12\n", "pointer text"),
        (b"solid\n", "no PLY"),
        (b"ply\nformat ascii 1.0\n", "no end"),
        (b"ply\nformat ascii 1.0\nelement vertex\nend_header\n", "not understood"),
        (b"ply\nformat ascii 1.0\nproperty float x\nend_header\n", "not understood"),
        (b"ply\nformat middle_endian 1.0\nend_header\n", "not understood"),
        (b"ply\nelement vertex 0\nend_header\n", "no known format"),
        (header("ascii", 5, 1) + text(LID) + b"3 0 1 5\n", "not there"),
        (header("ascii", 5, 1) + text(LID) + b"3 0 1 -1\n", "not there"),
        (header("ascii", 5, 1) + text(LID) + b"-3 0 1 2\n", "below zero"),
        (header("ascii", 5, 1) + text(LID) + b"3 0 one 2\n", "no number"),
        (header("ascii", 5, 1) + text(LID) + b"1" * 5000, "no number"),
        (header("ascii", 10**8, 1) + text(LID), "limits"),
        (header("binary_little_endian", 10**7, 1) + b"\0" * 60, "cut off"),
        (header("ascii", 5, 1, vertex="property float x\n") + b"0 0 0 0 0 3 0 1 2", "x, y and z"),
    ],
)
def test_hostile(tmp_path: Path, data: bytes, words: str) -> None:
    with pytest.raises(UnreadableFile, match=words) as caught:
        read(tmp_path, data)
    assert caught.value.path == "lid.ply"


def test_nothing_silent(tmp_path: Path) -> None:
    points = read(tmp_path, header("ascii", 5, 0) + text(LID))
    assert [(note.code, note.level) for note in points.notes] == [("no-triangles", "error")]
    bad = read(tmp_path, header("ascii", 5, 2) + text([*LID[:4], (float("nan"), 0, 0)]) + b"3 0 1 2\n2 0 1\n")
    assert [(note.code, note.level) for note in bad.notes] == [("bad-positions", "error"), ("short-faces", "warning")]
    assert "1 of 5" in bad.notes[0].message


def test_signalling_nan_makes_no_noise(tmp_path: Path) -> None:
    data = bytearray(binary_lid())
    at = data.index(b"end_header\n") + len(b"end_header\n")
    data[at : at + 4] = struct.pack("<I", 0x7FA00000)  # IEEE 754: quiet bit clear
    assert [note.code for note in read(tmp_path, bytes(data)).notes] == ["bad-positions"]


def test_limit_has_two_sides(tmp_path: Path) -> None:
    assert len(read(tmp_path, binary_lid(), limits=ReadLimits(triangles=2)).parts[0].triangles) == 3
    with pytest.raises(LimitExceeded):
        read(tmp_path, binary_lid(), limits=ReadLimits(triangles=1))
