"""Accessors: sparse, normalised, quantised, strided; and every way they can lie about their bytes."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.support.gltf_writer import GltfBuilder
from tidegate.errors import LimitExceeded, UnreadableFile
from tidegate.load.gltf import read_gltf
from tidegate.load.gltf_accessors import as_columns
from tidegate.load.limits import ReadLimits
from tidegate.load.references import DropFolder
from tidegate.model.mesh import MeshFile

TRIANGLE = [(0, 0, 0), (1, 0, 0), (0, 1, 0)]


def build_with(uv: Any = None, **more: Any) -> GltfBuilder:
    build = GltfBuilder()
    build.mesh("crate", TRIANGLE, np.array([0, 1, 2], np.uint16))
    if uv is not None:
        build.json["meshes"][0]["primitives"][0]["attributes"]["TEXCOORD_0"] = build.accessor(uv, **more)
    return build


def read(tmp_path: Path, build: GltfBuilder, limits: ReadLimits | None = None) -> MeshFile:
    (tmp_path / "crate.glb").write_bytes(build.glb())
    folder = DropFolder(tmp_path)
    return read_gltf(folder, "crate.glb", limits) if limits else read_gltf(folder, "crate.glb")


def uv_of(mesh: MeshFile) -> list[list[float]]:
    return mesh.parts[0].uv_layers[0].uv.tolist()


@pytest.mark.parametrize(
    ("stored", "wanted"),
    [
        # glTF 2.0 section 3.6.2.2: c / 255, c / 65535, max(c / 127, -1), max(c / 32767, -1)
        (np.array([0, 51, 255], np.uint8), [0, 0.2, 1]),
        (np.array([0, 13107, 65535], np.uint16), [0, 0.2, 1]),
        (np.array([-128, -127, 0, 127], np.int8), [-1, -1, 0, 1]),
        (np.array([-32768, -32767, 16384, 32767], np.int16), [-1, -1, 16384 / 32767, 1]),
        (np.array([0.25, -3, 2], np.float32), [0.25, -3, 2]),
    ],
)
def test_normalised_values(stored: np.ndarray, wanted: list[float]) -> None:
    assert as_columns(stored, normalized=True).tolist() == wanted
    assert as_columns(stored, normalized=False).tolist() == [float(value) for value in stored]


@pytest.mark.parametrize("kind", [np.uint8, np.uint16])
def test_normalised_uvs_need_no_extension(tmp_path: Path, kind: type) -> None:
    most = int(np.iinfo(kind).max)
    mesh = read(tmp_path, build_with(np.array([(0, 0), (most, 0), (most // 5, most)], kind), normalized=True))
    assert uv_of(mesh) == [[0, 1], [1, 1], [0.2, 0]]
    assert mesh.notes == ()


@pytest.mark.parametrize("declared", [True, False])
def test_quantised_positions_and_uvs(tmp_path: Path, declared: bool) -> None:
    # KHR_mesh_quantization: positions in whole numbers, scaled back by the node.
    build = build_with(np.array([(0, 0), (-127, 0), (127, 127)], np.int8), normalized=True)
    attributes = build.json["meshes"][0]["primitives"][0]["attributes"]
    attributes["POSITION"] = build.accessor(np.array([(0, 0, 0), (1000, 0, 0), (0, 2000, 0)], np.int16))
    build.json["nodes"][0]["scale"] = [0.001] * 3
    if declared:
        build.json["extensionsUsed"] = build.json["extensionsRequired"] = ["KHR_mesh_quantization"]
    mesh = read(tmp_path, build)
    assert np.allclose(mesh.parts[0].positions, [(0, 0, 0), (1, 0, 0), (0, 2, 0)], atol=1e-15)
    assert uv_of(mesh) == [[0, 1], [-1, 1], [1, 0]]
    assert [note.code for note in mesh.notes] == ([] if declared else ["undeclared-quantization"] * 2)


def test_sparse_on_values_and_on_nothing(tmp_path: Path) -> None:
    build = build_with(np.array([(0, 0), (1, 0), (0, 1)], np.float32))
    sparse = {
        "count": 2,
        "indices": {"bufferView": build.view(np.array([0, 2], np.uint16).tobytes()), "componentType": 5123},
        "values": {"bufferView": build.view(np.array([(0.5, 0.25), (0.75, 1)], np.float32).tobytes())},
    }
    build.json["accessors"][-1]["sparse"] = sparse
    assert uv_of(read(tmp_path, build)) == [[0.5, 0.75], [1, 1], [0.75, 0]]
    del build.json["accessors"][-1]["bufferView"]  # what is not replaced is zero
    assert uv_of(read(tmp_path, build)) == [[0.5, 0.75], [0, 1], [0.75, 0]]


def test_interleaved_vertices(tmp_path: Path) -> None:
    build = build_with()
    rows = np.zeros(3, [("p", "<f4", 3), ("uv", "<u2", 2)])
    rows["p"], rows["uv"] = TRIANGLE, [(0, 0), (65535, 0), (0, 65535)]
    view = build.view(rows.tobytes(), byteStride=16)
    at = {"bufferView": view, "count": 3}
    build.json["meshes"][0]["primitives"][0]["attributes"] = {
        "POSITION": build.add("accessors", {**at, "componentType": 5126, "type": "VEC3"}),
        "TEXCOORD_0": build.add(
            "accessors", {**at, "byteOffset": 12, "componentType": 5123, "type": "VEC2", "normalized": True}
        ),
    }
    mesh = read(tmp_path, build)
    assert mesh.parts[0].positions.tolist() == [list(map(float, p)) for p in TRIANGLE]
    assert uv_of(mesh) == [[0, 1], [1, 1], [0, 0]]


def test_last_element_needs_no_full_stride() -> None:
    # glTF 2.0 section 3.6.2.4: byteOffset + stride * (count - 1) + size of the element must fit. Both sides of that.
    for length, fits in ((84, True), (83, False)):
        build = build_with()
        build.json["accessors"][0].update(bufferView=build.view(bytes(length), byteStride=36))
        build.json["accessors"][0].pop("byteOffset", None)
        from tempfile import TemporaryDirectory

        with TemporaryDirectory() as folder:
            if fits:
                assert read(Path(folder), build).parts[0].positions.shape == (3, 3)
            else:
                with pytest.raises(UnreadableFile, match="reaches beyond"):
                    read(Path(folder), build)


def edit(**changes: Any) -> Any:
    def change(build: GltfBuilder) -> None:
        build.json["accessors"][0].update(changes)

    return change


def edit_view(**changes: Any) -> Any:
    def change(build: GltfBuilder) -> None:
        build.json["bufferViews"][0].update(changes)

    return change


@pytest.mark.parametrize(
    ("change", "words"),
    [
        (edit(count=4), "reaches beyond"),
        (edit(count=2), "lead to vertices that are not there"),
        (edit(count=0), "lead to vertices that are not there"),
        (edit(count=-1), "out of range"),
        (edit(count=2.5), "no whole number"),
        (edit(count=True), "no whole number"),
        (edit(count="3"), "no whole number"),
        (edit(count=10**30), "out of range"),
        (edit(count=400_000_000), "limits allow"),
        (edit(byteOffset=4), "reaches beyond"),
        (edit(byteOffset=2**40), "reaches beyond"),
        (edit(componentType=5124), "not known"),
        (edit(componentType=5125), "wrong component type"),
        (edit(componentType=5126.5), "no whole number"),
        (edit(type="VEC2"), "wrong type"),
        (edit(type="MAT4"), "SCALAR or VEC2"),
        (edit(type=3), "SCALAR or VEC2"),
        (edit(bufferView=99), "not there"),
        (edit(normalized="yes"), "neither true nor false"),
        (edit(sparse=[]), "no JSON object"),
        (edit_view(buffer=1), "not there"),
        (edit_view(byteLength=10**6), "reaches beyond its buffer"),
        (edit_view(byteOffset=10**6), "reaches beyond its buffer"),
        (edit_view(byteStride=8), "smaller than an element"),
    ],
)
def test_lies(tmp_path: Path, change: Any, words: str) -> None:
    build = build_with()
    change(build)
    with pytest.raises(UnreadableFile, match=words) as caught:
        read(tmp_path, build)
    assert caught.value.path == "crate.glb"


def test_sparse_lies(tmp_path: Path) -> None:
    good = {
        "count": 1,
        "indices": {"bufferView": 0, "componentType": 5121},
        "values": {"bufferView": 0},
    }
    for change, words in (
        ({"count": 4}, "more elements"),
        ({"indices": {"bufferView": 0, "byteOffset": 35, "componentType": 5126}}, "unsigned"),
        ({"indices": {"bufferView": 0, "byteOffset": 14, "componentType": 5121}}, "reach beyond"),
        ({"indices": {"bufferView": 9, "componentType": 5121}}, "not there"),
        ({"values": {"bufferView": 0, "byteOffset": 30}}, "reaches beyond"),
    ):
        build = build_with()
        build.json["accessors"][0]["sparse"] = {**good, **change}
        with pytest.raises(UnreadableFile, match=words):
            read(tmp_path, build)


def test_values_without_bytes_are_bounded(tmp_path: Path) -> None:
    build = build_with()
    del build.json["accessors"][0]["bufferView"]
    assert read(tmp_path, build, ReadLimits(unbacked_elements=9)).parts[0].positions.tolist() == [[0.0] * 3] * 3
    with pytest.raises(LimitExceeded, match="no bytes stand for"):
        read(tmp_path, build, ReadLimits(unbacked_elements=8))
    build.json["accessors"][0]["count"] = 100_000_000
    with pytest.raises(LimitExceeded):  # refused before anything of that size is made
        read(tmp_path, build)


def test_triangle_and_vertex_limits_count_every_instance(tmp_path: Path) -> None:
    build = build_with()
    build.node("second", mesh=0)
    assert len(read(tmp_path, build, ReadLimits(triangles=2, vertices=6)).parts) == 2
    for limits in (ReadLimits(triangles=1), ReadLimits(vertices=5)):
        with pytest.raises(LimitExceeded, match="larger than the limits"):
            read(tmp_path, build, limits)


def test_attributes_of_another_count(tmp_path: Path) -> None:
    with pytest.raises(UnreadableFile, match="another number of values") as caught:
        read(tmp_path, build_with(np.zeros((4, 2), np.float32)))
    assert (caught.value.expected, caught.value.came) == ("3", "4")


def test_index_out_of_range_says_which(tmp_path: Path) -> None:
    build = build_with()
    build.json["meshes"][0]["primitives"][0]["indices"] = build.accessor(np.array([0, 1, 3], np.uint8))
    with pytest.raises(UnreadableFile, match="not there") as caught:
        read(tmp_path, build)
    assert (caught.value.expected, caught.value.came) == ("below 3", "3")


def test_restart_index(tmp_path: Path) -> None:
    # glTF 2.0 section 3.7.2.1: indices must not be the largest value of their type.
    build = GltfBuilder()
    build.mesh("many", np.zeros((256, 3)), np.array([0, 1, 254], np.uint8))
    assert read(tmp_path, build).notes == ()
    build.json["meshes"][0]["primitives"][0]["indices"] = build.accessor(np.array([0, 1, 255], np.uint8))
    assert [(note.code, note.level) for note in read(tmp_path, build).notes] == [("restart-index", "error")]


@pytest.mark.parametrize("value", [float("nan"), float("inf"), float("-inf")])
def test_positions_that_are_no_numbers(tmp_path: Path, value: float) -> None:
    build = GltfBuilder()
    build.mesh("bad", [(0, 0, 0), (value, 0, -value), (0, 1, 0), (3e38, 3e38, 3e38)], [(0, 1, 2), (0, 2, 3)])
    build.json["accessors"][0].pop("min")
    build.json["accessors"][0].pop("max")
    (note,) = read(tmp_path, build).notes
    assert (note.code, note.level) == ("bad-positions", "error")
    assert note.message.startswith("1 of 4")


@settings(max_examples=40, deadline=None)
@given(at=st.integers(0, 10**6), byte=st.integers(1, 255), seed=st.integers(0, 3))
def test_any_flipped_byte_is_read_or_refused(
    tmp_path_factory: pytest.TempPathFactory, at: int, byte: int, seed: int
) -> None:
    folder = tmp_path_factory.getbasetemp()
    build = build_with(np.array([(0, 0), (1, 0), (0, 1)], np.float32))
    data = bytearray(build.glb())
    data[at % len(data)] ^= byte
    data[(at * 7 + seed) % len(data)] ^= byte
    (folder / "flipped.glb").write_bytes(bytes(data))
    try:
        mesh = read_gltf(DropFolder(folder, ("flipped.glb",)), "flipped.glb")
    except UnreadableFile as fault:
        assert fault.path == "flipped.glb"
    else:
        for part in mesh.parts:
            assert part.triangles.min() >= 0
            assert part.triangles.max() < len(part.positions)
