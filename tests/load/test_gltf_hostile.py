"""Containers, JSON, versions, extensions and buffers that are not as they should be: which reason each one gives."""

from __future__ import annotations

import json
import struct
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from tests.support.gltf_writer import GltfBuilder, pack_glb, write_gltf
from tidegate.errors import LimitExceeded, NoReader, UnreadableFile
from tidegate.load.gltf import read_gltf
from tidegate.load.limits import ReadLimits
from tidegate.load.references import DropFolder
from tidegate.model.mesh import MeshFile

ASSET = b'{"asset":{"version":"2.0"}}'


def sign() -> GltfBuilder:
    build = GltfBuilder()
    build.mesh("sign", [(0, 0, 0), (1, 0, 0), (0, 1, 0)], np.array([0, 1, 2], np.uint16))
    return build


def read(folder: Path, data: bytes, name: str = "sign.glb", **limits: Any) -> MeshFile:
    (folder / name).write_bytes(data)
    return read_gltf(DropFolder(folder), name, ReadLimits(**limits))


def refused(folder: Path, data: bytes, words: str, name: str = "sign.glb", **limits: Any) -> UnreadableFile:
    with pytest.raises(UnreadableFile, match=words) as caught:
        read(folder, data, name, **limits)
    assert caught.value.path == name
    return caught.value


def codes(mesh: MeshFile) -> list[str]:
    return [note.code for note in mesh.notes]


@pytest.mark.parametrize(
    ("data", "words"),
    [
        (b"", "empty"),
        (b"version https://host/spec/v1\noid sha256:4d7a\nsize 12345\n", "pointer text"),
        (b"<!DOCTYPE html><html>", "neither glTF JSON nor GLB"),
        (b"\x89PNG\r\n\x1a\n", "neither glTF JSON nor GLB"),
        (b"glTX" + bytes(40), "neither glTF JSON nor GLB"),
        (b"glT", "neither glTF JSON nor GLB"),
        (ASSET.decode().encode("utf-16"), "not UTF-8"),
        (b"glTF" + struct.pack("<II", 1, 20) + bytes(8), "another version"),
        (b"glTF" + struct.pack("<II", 3, 20) + bytes(8), "another version"),
        (b"glTF" + struct.pack("<II", 2, 12), "first chunk"),
        (b"glTF" + struct.pack("<II", 2, 16) + bytes(4), "cut off"),
        (b"glTF" + struct.pack("<IIII", 2, 28, 4_000_000_000, 0x4E4F534A) + bytes(8), "cut off"),
        (b"glTF" + struct.pack("<IIII", 2, 28, 8, 0x004E4942) + bytes(8), "first chunk"),
        (b"{", "damaged"),
        (b'{"asset":{"version":"2.0"}', "damaged"),
        (b'{"asset":{"version":"2.0"}}}', "damaged"),
        (b'{"a":"\xff"}', "not UTF-8"),
        (b'{"asset":{"version":"2.0"},"x":NaN}', "no JSON number"),
        (b'{"asset":{"version":"2.0"},"x":' + b"1" * 9000 + b"}", "number that cannot be read"),
        (b'{"asset":{"version":"2.0","version":"2.1"}}', "twice with different values"),
    ],
)
def test_containers_and_json(tmp_path: Path, data: bytes, words: str) -> None:
    refused(tmp_path, data, words)


def test_deep_json(tmp_path: Path) -> None:
    for depth in (100, 100_000):
        data = ASSET[:-1] + b',"extras":' + b"[" * depth + b"]" * depth + b"}"
        with pytest.raises(LimitExceeded, match="too deeply"):
            read(tmp_path, data, "deep.gltf")
    nested = ASSET[:-1] + b',"extras":' + b"[" * 4 + b"]" * 4 + b"}"
    assert codes(read(tmp_path, nested, "deep.gltf", json_depth=5)) == ["no-triangles"]
    with pytest.raises(LimitExceeded):
        read(tmp_path, nested, "deep.gltf", json_depth=4)


def test_size_limits_have_two_sides(tmp_path: Path) -> None:
    assert codes(read(tmp_path, ASSET, "a.gltf", json_bytes=27, file_bytes=27)) == ["no-triangles"]
    for limits in ({"json_bytes": 26}, {"file_bytes": 26}):
        with pytest.raises(LimitExceeded) as caught:
            read(tmp_path, ASSET, "a.gltf", **limits)
        assert caught.value.path == "a.gltf"


def test_what_is_odd_but_harmless_is_noted(tmp_path: Path) -> None:
    text = json.dumps(sign().json).encode()
    assert codes(read(tmp_path, b"\xef\xbb\xbf" + ASSET, "a.gltf")) == ["byte-order-mark", "no-triangles"]
    assert codes(read(tmp_path, b'{"asset":{"version":"2.0","version":"2.0"}}', "a.gltf")) == [
        "key-twice",
        "no-triangles",
    ]
    assert codes(read(tmp_path, sign().glb() + b"tail")) == ["bytes-after-end"]
    assert codes(read(tmp_path, sign().glb(), "sign.gltf")) == ["misleading-suffix"]
    build = sign()
    build.json["buffers"] = [{"byteLength": len(build.blob)}]
    text = json.dumps(build.json).encode()
    blob = bytes(build.blob)
    # glTF 2.0 section 4.4.3: unknown chunks after the known ones are passed over.
    assert codes(read(tmp_path, pack_glb(text, blob, (0x58585858, b"anything")))) == []
    assert codes(read(tmp_path, pack_glb(text, blob, (0x004E4942, b"more")))) == ["glb-chunks"]


@pytest.mark.parametrize("version", ["2.0", "2.1", "2.00", "02.0"])
def test_versions_read(tmp_path: Path, version: str) -> None:
    # The grammar of glTF 2.0.1 takes leading zeros, that of 2026 does not; files of both exist.
    assert codes(read(tmp_path, json.dumps({"asset": {"version": version}}).encode(), "a.gltf")) == ["no-triangles"]


@pytest.mark.parametrize(
    ("asset", "words"),
    [
        (None, "version is missing"),
        ({}, "version is missing"),
        ({"version": 2.0}, "no version"),
        ({"version": "+1.0"}, "no version"),
        ({"version": "2.0.1"}, "no version"),
        ({"version": "2"}, "no version"),
        ({"version": "two"}, "no version"),
        ({"version": "1.0"}, "another glTF version"),
        ({"version": "0.12"}, "another glTF version"),
        ({"version": "12.34"}, "another glTF version"),
        ({"version": "2.1", "minVersion": "2.1"}, "later glTF version"),
        ({"version": "2.10", "minVersion": "2.10"}, "later glTF version"),
        ([], "no JSON object"),
    ],
)
def test_versions_refused(tmp_path: Path, asset: Any, words: str) -> None:
    root = {} if asset is None else {"asset": asset}
    refused(tmp_path, json.dumps(root).encode(), words, "a.gltf")


def test_least_version_of_two_is_read(tmp_path: Path) -> None:
    root = {"asset": {"version": "2.10", "minVersion": "2.0"}}
    assert codes(read(tmp_path, json.dumps(root).encode(), "a.gltf")) == ["no-triangles"]


@pytest.mark.parametrize(
    "name", ["EXT_meshopt_compression", "KHR_meshopt_compression", "VENDOR_fold", "KHR_gaussian_splatting"]
)
def test_required_extensions_that_change_geometry(tmp_path: Path, name: str) -> None:
    build = sign()
    build.json["extensionsUsed"] = [name]
    if not name.endswith("meshopt_compression"):
        assert codes(read(tmp_path, build.glb())) == ["unknown-extension"]
    build.json["extensionsRequired"] = [name]
    with pytest.raises(NoReader, match="meshopt" if "meshopt" in name else name):
        read(tmp_path, build.glb())


@pytest.mark.parametrize("name", ["KHR_materials_dispersion", "KHR_materials_unheard_of", "KHR_texture_basisu"])
def test_required_extensions_that_leave_geometry_alone(tmp_path: Path, name: str) -> None:
    build = sign()
    build.json["extensionsUsed"] = build.json["extensionsRequired"] = [name]
    mesh = read(tmp_path, build.glb())
    assert len(mesh.parts) == 1
    assert codes(mesh) == (["unknown-extension"] if "unheard" in name else [])


def test_meshopt_is_never_read_as_zeros(tmp_path: Path) -> None:
    build = sign()
    packed = {
        "extensions": {"EXT_meshopt_compression": {"buffer": 0, "byteLength": 8, "count": 3, "mode": "ATTRIBUTES"}}
    }
    build.json["buffers"] = [{"byteLength": len(build.blob)}, {"byteLength": 36, **packed}]
    build.json["extensionsUsed"] = ["EXT_meshopt_compression"]
    build.json["bufferViews"][0].update(packed)
    assert len(read(tmp_path, build.glb()).parts) == 1  # the plain copy is there
    build.json["bufferViews"][0].update(buffer=1, byteOffset=0)
    with pytest.raises(NoReader, match="meshopt"):
        read(tmp_path, build.glb())


def test_missing_and_short_buffers_say_how_many_bytes(tmp_path: Path) -> None:
    build = sign()
    write_gltf(tmp_path / "sign.gltf", build, buffer="sign.bin")
    data = (tmp_path / "sign.gltf").read_bytes()
    whole = (tmp_path / "sign.bin").read_bytes()
    for length in (0, 1, len(whole) - 1):
        (tmp_path / "sign.bin").write_bytes(whole[:length])
        fault = refused(tmp_path, data, "too short", "sign.gltf")
        assert (fault.expected, fault.came) == (f"{len(whole)} bytes", f"{length} bytes in 'sign.bin'")
    (tmp_path / "sign.bin").write_bytes(whole + b"more than stated is allowed")
    assert codes(read(tmp_path, data, "sign.gltf")) == []
    (tmp_path / "sign.bin").write_bytes(b"version https://host/spec/v1\noid sha256:00\nsize 44\n")
    refused(tmp_path, data, "pointer text", "sign.gltf")
    (tmp_path / "sign.bin").unlink()
    fault = refused(tmp_path, data, "buffer file 'sign.bin' is missing", "sign.gltf")
    assert fault.expected.startswith(f"{len(whole)} bytes")


@pytest.mark.parametrize("uri", ["../sign.bin", "/etc/passwd", "file:///etc/passwd", "http://host/sign.bin"])
def test_buffers_outside_are_not_opened(tmp_path: Path, uri: str) -> None:
    (tmp_path / "drop").mkdir()
    (tmp_path / "sign.bin").write_bytes(bytes(sign().blob))
    fault = refused(tmp_path / "drop", sign().gltf(uri), "outside the drop", "sign.gltf")
    assert fault.done == "it was not opened"


@pytest.mark.parametrize(
    ("uri", "words"),
    [
        ("data:application/octet-stream;base64,AAAA", "too short"),
        ("data:application/octet-stream;base64,A", "Base64"),
        ("data:application/octet-stream;base64,@@@@", "Base64"),
        ("data:application/octet-stream;base64", "no comma"),
        (5, "no text"),
    ],
)
def test_damaged_data_uris(tmp_path: Path, uri: Any, words: str) -> None:
    refused(tmp_path, sign().gltf(uri), words, "sign.gltf")


def test_data_uri_buffer_is_read(tmp_path: Path) -> None:
    import base64

    build = sign()
    uri = "data:application/octet-stream;base64," + base64.b64encode(bytes(build.blob)).decode().rstrip("=")
    mesh = read(tmp_path, build.gltf(uri), "sign.gltf")
    assert mesh.parts[0].positions[1].tolist() == [1, 0, 0]
    assert [(ref.text, ref.kind, ref.status) for ref in mesh.references] == [
        ("data:application/octet-stream;base64,", "buffer", "embedded")
    ]


def test_a_wrong_case_buffer_is_read_and_said(tmp_path: Path) -> None:
    (tmp_path / "Sign.bin").write_bytes(bytes(sign().blob))
    mesh = read(tmp_path, sign().gltf("sign.bin"), "sign.gltf")
    assert len(mesh.parts) == 1
    assert [(ref.status, ref.path) for ref in mesh.references] == [("wrong-case", "Sign.bin")]


def test_a_buffer_without_bytes(tmp_path: Path) -> None:
    build = sign()
    build.json["buffers"] = [{"byteLength": len(build.blob)}]
    refused(tmp_path, pack_glb(json.dumps(build.json).encode()), "names no file")


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"meshes": {}}, "no JSON array"),
        ({"meshes": [5]}, "no JSON object"),
        ({"meshes": [{"primitives": [5]}]}, "no JSON object"),
        ({"meshes": [{"primitives": {}}]}, "no JSON array"),
        ({"meshes": [{"primitives": [{"attributes": {"POSITION": 9}}]}]}, "not there"),
        ({"meshes": [{"primitives": [{"attributes": {"POSITION": 0}, "mode": 7}]}]}, "not known"),
        ({"meshes": [{"primitives": [{"attributes": {"POSITION": 0}, "material": 0}]}]}, "not there"),
        ({"meshes": [{"primitives": [{"attributes": {"POSITION": 0}, "indices": 0}]}]}, "no list of whole numbers"),
        ({"scene": 4}, "not there"),
        ({"scenes": [{"nodes": [8]}]}, "not there"),
        ({"skins": [{"joints": [8]}]}, "not there"),
        ({"animations": {}}, "no JSON array"),
        ({"extensions": {"KHR_lights_punctual": []}}, "no JSON object"),
    ],
)
def test_damaged_lists(tmp_path: Path, change: dict[str, Any], words: str) -> None:
    build = sign()
    build.json.update(change)
    refused(tmp_path, build.glb(), words)


def test_missing_geometry_is_said_aloud(tmp_path: Path) -> None:
    build = sign()
    build.json["meshes"][0]["primitives"] = [{"attributes": {}}]
    assert codes(read(tmp_path, build.glb())) == ["no-positions", "no-triangles"]
    build.json["meshes"][0]["primitives"] = []
    assert codes(read(tmp_path, build.glb())) == ["empty-mesh", "no-triangles"]


def test_one_message_at_very_many_places_is_counted(tmp_path: Path) -> None:
    build = sign()
    build.json["meshes"][0]["primitives"] += [build.json["meshes"][0]["primitives"][0] | {"mode": 1}] * 50
    notes = read(tmp_path, build.glb()).notes
    assert len(notes) == 21
    assert notes[-1].message.endswith("the same at 30 more places")


@pytest.mark.parametrize(("name", "width"), [("NORMAL", 3), ("TANGENT", 4)])
@pytest.mark.parametrize("value", [np.nan, np.inf])
def test_normals_and_tangents_that_are_no_numbers_are_told(tmp_path: Path, name: str, width: int, value: float) -> None:
    build = sign()
    good = np.tile(np.array([0, 0, 1, 1], np.float32)[:width], (3, 1))
    for values, wanted in ((good, []), (np.where(np.arange(3)[:, None] == 1, value, good), [f"bad-{name.lower()}s"])):
        number = build.accessor(values.astype(np.float32))
        for bound in ("min", "max"):
            build.json["accessors"][number].pop(bound, None)
        build.json["meshes"][0]["primitives"][0]["attributes"][name] = number
        mesh = read(tmp_path, build.glb())
        assert codes(mesh) == wanted
        assert all("1 of 3 vertices" in note.message for note in mesh.notes)
