"""Materials and images: slots, channels, UV layers, transforms, wraps, and every picture accounted for."""

from __future__ import annotations

import base64
import json
import math
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.support.gltf_writer import GltfBuilder
from tidegate.errors import LimitExceeded, UnreadableFile
from tidegate.load.gltf import read_gltf
from tidegate.load.gltf_materials import v_up_transform
from tidegate.load.references import DropFolder
from tidegate.model.mesh import MapSlot, MeshFile, UvTransform

TRIANGLE = [(0, 0, 0), (1, 0, 0), (0, 1, 0)]
PNG = b"\x89PNG\r\n\x1a\nnot a whole picture"


def lantern(material: dict[str, Any], images: int = 6) -> GltfBuilder:
    """A storm lantern whose material states textures 0, 1, 2 ... of images map0.png, map1.png ..."""
    build = GltfBuilder()
    build.mesh("lantern", TRIANGLE, [(0, 1, 2)], material=0)
    for number in range(images):
        build.texture(f"map{number}.png")
    build.add("materials", {"name": "brass", **material})
    return build


def read(tmp_path: Path, build: GltfBuilder) -> MeshFile:
    (tmp_path / "lantern.glb").write_bytes(build.glb())
    return read_gltf(DropFolder(tmp_path), "lantern.glb")


def slots(mesh: MeshFile) -> list[tuple[str, str, str, int]]:
    return [(slot.slot, slot.channels, slot.stated_as, slot.reference) for slot in mesh.materials[0].slots]


def base(**info: Any) -> dict[str, Any]:
    return {"pbrMetallicRoughness": {"baseColorTexture": {"index": 0, **info}}}


def only_slot(mesh: MeshFile) -> MapSlot:
    (slot,) = mesh.materials[0].slots
    return slot


def applied(transform: UvTransform, u: float, v: float) -> tuple[float, float]:
    (a, b, c), (d, e, f) = transform.matrix
    return a * u + b * v + c, d * u + e * v + f


def test_core_slots_and_channels(tmp_path: Path) -> None:
    # glTF 2.0 sections 3.9.2 and 3.9.3: roughness G, metalness B, occlusion R.
    material = {
        "pbrMetallicRoughness": {"baseColorTexture": {"index": 0}, "metallicRoughnessTexture": {"index": 1}},
        "normalTexture": {"index": 2, "scale": 0.5},
        "occlusionTexture": {"index": 1, "texCoord": 1},
        "emissiveTexture": {"index": 3},
    }
    mesh = read(tmp_path, lantern(material))
    assert slots(mesh) == [
        ("base_color", "rgb", "pbrMetallicRoughness.baseColorTexture", 0),
        ("roughness", "g", "pbrMetallicRoughness.metallicRoughnessTexture", 1),
        ("metalness", "b", "pbrMetallicRoughness.metallicRoughnessTexture", 1),
        ("normal", "rgb", "normalTexture", 2),
        ("occlusion", "r", "occlusionTexture", 1),
        ("emission", "rgb", "emissiveTexture", 3),
    ]
    assert [slot.uv_layer for slot in mesh.materials[0].slots] == [0, 0, 0, 0, 1, 0]
    assert mesh.parts[0].material == 0
    assert [ref.text for ref in mesh.references] == [f"map{n}.png" for n in range(6)]


@pytest.mark.parametrize(
    ("name", "key", "wanted"),
    [
        # Channels as the README of each extension states them (KhronosGroup/glTF, extensions/2.0/Khronos).
        ("clearcoat", "clearcoatTexture", [("clearcoat", "r")]),
        ("clearcoat", "clearcoatRoughnessTexture", [("clearcoat_roughness", "g")]),
        ("clearcoat", "clearcoatNormalTexture", [("clearcoat_normal", "rgb")]),
        ("sheen", "sheenColorTexture", [("sheen_color", "rgb")]),
        ("sheen", "sheenRoughnessTexture", [("sheen_roughness", "a")]),
        ("specular", "specularTexture", [("specular", "a")]),
        ("specular", "specularColorTexture", [("specular_color", "rgb")]),
        ("transmission", "transmissionTexture", [("transmission", "r")]),
        ("volume", "thicknessTexture", [("thickness", "g")]),
        ("iridescence", "iridescenceTexture", [("iridescence", "r")]),
        ("iridescence", "iridescenceThicknessTexture", [("iridescence_thickness", "g")]),
        ("anisotropy", "anisotropyTexture", [("anisotropy", "rgb")]),
        ("diffuse_transmission", "diffuseTransmissionTexture", [("diffuse_transmission", "a")]),
        ("diffuse_transmission", "diffuseTransmissionColorTexture", [("diffuse_transmission_color", "rgb")]),
        ("pbrSpecularGlossiness", "diffuseTexture", [("base_color", "rgb")]),
        ("pbrSpecularGlossiness", "specularGlossinessTexture", [("specular_color", "rgb"), ("glossiness", "a")]),
    ],
)
def test_slots_of_material_extensions(tmp_path: Path, name: str, key: str, wanted: list[tuple[str, str]]) -> None:
    extension = f"KHR_materials_{name}"
    mesh = read(tmp_path, lantern({"extensions": {extension: {key: {"index": 4}}}}))
    assert slots(mesh) == [(slot, channels, f"{extension}.{key}", 4) for slot, channels in wanted]
    assert mesh.notes == ()


def test_unknown_material_extension_is_a_note(tmp_path: Path) -> None:
    build = lantern({"extensions": {"VENDOR_materials_glow": {"glowTexture": {"index": 0}}}})
    build.json["extensionsUsed"] = ["VENDOR_materials_glow"]
    mesh = read(tmp_path, build)
    assert {(note.code, note.level) for note in mesh.notes} == {("unknown-extension", "note")}
    assert "VENDOR_materials_glow" in mesh.notes[0].message
    assert mesh.materials[0].slots == ()


def test_texture_transform_by_the_worked_example(tmp_path: Path) -> None:
    # KHR_texture_transform, first example: offset (0, 1), rotation pi / 2, scale (0.5, 0.5) "utilizes only the lower
    # left quadrant". In its V-down frame the corners (0,0) (1,0) (1,1) (0,1) become (0,1) (0,.5) (.5,.5) (.5,1).
    stated = {"offset": [0, 1], "rotation": math.pi / 2, "scale": [0.5, 0.5]}
    mesh = read(tmp_path, lantern(base(extensions={"KHR_texture_transform": stated})))
    transform = only_slot(mesh).transform
    assert transform is not None
    for (u, down), (wanted_u, wanted_down) in zip(
        [(0, 0), (1, 0), (1, 1), (0, 1)], [(0, 1), (0, 0.5), (0.5, 0.5), (0.5, 1)], strict=True
    ):
        assert np.allclose(applied(transform, u, 1 - down), (wanted_u, 1 - wanted_down), atol=1e-15)
    # Every corner lies in the lower left quadrant, V up.
    corners = np.array([applied(transform, u, v) for u in (0, 1) for v in (0, 1)])
    assert np.allclose([corners.min(axis=0), corners.max(axis=0)], [(0, 0), (0.5, 0.5)], atol=1e-15)


def test_texture_transform_that_turns_the_picture_over() -> None:
    # Second example: offset (0, 1), scale (1, -1). V-down (0,0) -> (0,1) and (.25,.75) -> (.25,.25).
    transform = v_up_transform((0, 1), 0.0, (1, -1))
    assert transform is not None
    assert applied(transform, 0, 1) == (0, 0)
    assert applied(transform, 0.25, 0.25) == (0.25, 0.75)


@settings(max_examples=60, deadline=None)
@given(
    offset=st.tuples(st.floats(-2, 2), st.floats(-2, 2)),
    rotation=st.floats(-7, 7),
    scale=st.tuples(st.floats(-2, 2), st.floats(-2, 2)),
    uv=st.tuples(st.floats(-2, 2), st.floats(-2, 2)),
)
def test_texture_transform_is_the_same_in_both_frames(
    offset: tuple[float, float], rotation: float, scale: tuple[float, float], uv: tuple[float, float]
) -> None:
    c, s = math.cos(rotation), math.sin(rotation)
    turn = np.array([(c, s), (-s, c)]) @ np.diag(scale)
    u, down = turn @ np.array([uv[0], uv[1]]) + offset
    transform = v_up_transform(offset, rotation, scale)
    got = (uv[0], 1 - uv[1]) if transform is None else applied(transform, uv[0], 1 - uv[1])
    assert np.allclose(got, (u, 1 - down), atol=1e-12)


def test_texture_transform_may_name_another_uv_layer(tmp_path: Path) -> None:
    extensions = {"KHR_texture_transform": {"texCoord": 2}}
    slot = only_slot(read(tmp_path, lantern(base(texCoord=1, extensions=extensions))))
    assert (slot.uv_layer, slot.transform) == (2, None)
    assert only_slot(read(tmp_path, lantern(base(texCoord=1)))).uv_layer == 1


@pytest.mark.parametrize(
    ("sampler", "wanted", "notes"),
    [
        ({}, ("repeat", "repeat"), []),
        ({"wrapS": 33071, "wrapT": 33648}, ("clamp", "mirror"), []),
        ({"wrapS": 10497, "wrapT": 33071}, ("repeat", "clamp"), []),
        ({"wrapS": 5}, ("repeat", "repeat"), ["unknown-wrap"]),
    ],
)
def test_wraps(tmp_path: Path, sampler: dict[str, int], wanted: tuple[str, str], notes: list[str]) -> None:
    build = lantern(base())
    build.json["textures"][0]["sampler"] = build.add("samplers", sampler)
    mesh = read(tmp_path, build)
    assert only_slot(mesh).wrap == wanted
    assert [note.code for note in mesh.notes] == notes


@pytest.mark.parametrize(("mode", "channels"), [("OPAQUE", "rgb"), ("MASK", "rgba"), ("BLEND", "rgba")])
def test_alpha_mode(tmp_path: Path, mode: str, channels: str) -> None:
    mesh = read(tmp_path, lantern({**base(), "alphaMode": mode, "doubleSided": True}))
    assert only_slot(mesh).channels == channels
    assert (mesh.materials[0].alpha_mode, mesh.materials[0].double_sided) == (mode.lower(), True)


@pytest.mark.parametrize("name", ["EXT_texture_webp", "KHR_texture_basisu"])
def test_pictures_in_other_formats(tmp_path: Path, name: str) -> None:
    build = lantern(base())
    build.json["textures"][0] = {"extensions": {name: {"source": 3}}}
    build.json["extensionsUsed"] = build.json["extensionsRequired"] = [name]
    assert only_slot(read(tmp_path, build)).reference == 3
    build.json["textures"][0]["source"] = 1  # the core picture beside it counts first; both are references
    mesh = read(tmp_path, build)
    assert only_slot(mesh).reference == 1
    assert len(mesh.references) == 6


def test_a_texture_without_a_picture(tmp_path: Path) -> None:
    build = lantern(base())
    build.json["textures"][0] = {}
    mesh = read(tmp_path, build)
    assert only_slot(mesh).reference == -1
    assert [(note.code, note.level) for note in mesh.notes] == [("texture-without-image", "error")]


def test_same_resource_under_three_spellings(tmp_path: Path) -> None:
    # glTF 2.0 section 2.8: these three URIs name one file.
    (tmp_path / "grande_sphère.png").write_bytes(PNG)
    for raw in (b'"grande_sph\xc3\xa8re.png"', b'"grande_sph\\u00E8re.png"', b'"grande_sph%C3%A8re.png"'):
        text = b'{"asset":{"version":"2.0"},"images":[{"uri":' + raw + b"}]}"
        (tmp_path / "sphere.gltf").write_bytes(text)
        (reference,) = read_gltf(DropFolder(tmp_path), "sphere.gltf").references
        assert (reference.status, reference.path) == ("present", "grande_sphère.png")
        assert reference.text == json.loads(raw)


@pytest.mark.parametrize(
    ("uri", "status"),
    [
        ("Map%200.PNG", "wrong-case"),
        ("gone.png", "missing"),
        ("../../etc/passwd", "outside"),
        ("file:///etc/passwd", "outside"),
        ("\\\\server\\share\\a.png", "outside"),
        ("C:/art/a.png", "outside"),
        ("https://host/a.png", "outside"),
    ],
)
def test_status_of_named_pictures(tmp_path: Path, uri: str, status: str) -> None:
    (tmp_path / "map 0.png").write_bytes(PNG)
    build = lantern(base(), images=0)
    build.texture(uri)
    (reference,) = read(tmp_path, build).references
    assert (reference.text, reference.status, reference.kind) == (uri, status, "image")


def test_embedded_pictures(tmp_path: Path) -> None:
    build = lantern(base(), images=0)
    build.texture(PNG)
    build.json["images"][0]["name"] = "brass"
    build.texture("data:image/png;base64," + base64.b64encode(PNG).decode())
    build.texture("data:image/png;base64,@@@")
    mesh = read(tmp_path, build)
    assert [(r.text, r.status, r.mime, r.name, r.blob) for r in mesh.references] == [
        ("", "embedded", "image/png", "brass", PNG),
        ("data:image/png;base64,", "embedded", "image/png", "", PNG),
        ("data:image/png;base64,", "unreadable", "image/png", "", None),
    ]
    assert [(note.code, note.level) for note in mesh.notes] == [("image-bytes-missing", "error")]


def test_a_picture_whose_buffer_is_gone_costs_only_the_picture(tmp_path: Path) -> None:
    build = lantern(base(), images=0)
    build.texture(PNG)
    build.json["bufferViews"][-1]["buffer"] = 1
    build.json["buffers"] = [{"byteLength": len(build.blob)}, {"byteLength": 1000, "uri": "gone.bin"}]
    mesh = read(tmp_path, build)
    assert len(mesh.parts) == 1
    assert [(r.text, r.status, r.kind) for r in mesh.references] == [
        ("", "unreadable", "image"),
        ("gone.bin", "missing", "buffer"),
    ]
    assert [(note.code, note.level) for note in mesh.notes] == [("image-bytes-missing", "error")]


def test_an_image_without_source(tmp_path: Path) -> None:
    build = lantern(base(), images=1)
    build.json["images"][0] = {"name": "nothing"}
    mesh = read(tmp_path, build)
    assert [(r.status, r.name) for r in mesh.references] == [("unreadable", "nothing")]
    assert [(note.code, note.level) for note in mesh.notes] == [("image-without-source", "error")]


def test_pictures_cannot_share_bytes_without_end(tmp_path: Path) -> None:
    build = lantern(base(), images=0)
    whole = {"buffer": 0, "byteOffset": 0, "byteLength": len(build.blob)}
    for _ in range(2):
        build.add("images", {"bufferView": build.add("bufferViews", dict(whole)), "mimeType": "image/png"})
    build.add("textures", {"source": 0})
    with pytest.raises(LimitExceeded, match="embedded images"):
        read(tmp_path, build)


@pytest.mark.parametrize(
    ("material", "words"),
    [
        (base(index=6), "not there"),
        ({"pbrMetallicRoughness": {"baseColorTexture": {}}}, "no whole number"),
        ({"pbrMetallicRoughness": []}, "no JSON object"),
        ({"normalTexture": 3}, "no JSON object"),
        (base(texCoord=-1), "out of range"),
        (base(extensions={"KHR_texture_transform": {"scale": [1]}}), "2 finite numbers"),
        (base(extensions={"KHR_texture_transform": {"rotation": "x"}}), "no finite number"),
        (base(extensions=[]), "no JSON object"),
        ({"name": 7}, "no text"),
    ],
)
def test_damaged_materials(tmp_path: Path, material: dict[str, Any], words: str) -> None:
    with pytest.raises(UnreadableFile, match=words) as caught:
        read(tmp_path, lantern(material))
    assert caught.value.path == "lantern.glb"


@pytest.mark.parametrize(
    ("stated", "tint"),
    [
        ({"baseColorFactor": [0.5, 0.25, 1, 0.125]}, (0.5, 0.25, 1.0)),  # alpha tints nothing
        ({"baseColorFactor": [0, 0, 0, 1]}, (0.0, 0.0, 0.0)),
        ({}, (1.0, 1.0, 1.0)),  # glTF 2.0, 3.9.2: ones where nothing is stated
        ({"baseColorFactor": [0.5, 0.25, 1]}, (1.0, 1.0, 1.0)),
        ({"baseColorFactor": [0.5, 0.25, 1.5, 1]}, (1.0, 1.0, 1.0)),
        ({"baseColorFactor": [0.5, -0.25, 1, 1]}, (1.0, 1.0, 1.0)),
        ({"baseColorFactor": [0.5, "0.25", 1, 1]}, (1.0, 1.0, 1.0)),
        ({"baseColorFactor": [True, 0.25, 1, 1]}, (1.0, 1.0, 1.0)),
        ({"baseColorFactor": 0.5}, (1.0, 1.0, 1.0)),
    ],
)
def test_the_base_color_factor_tints(tmp_path: Path, stated: dict[str, Any], tint: tuple[float, float, float]) -> None:
    mesh = read(tmp_path, lantern({"pbrMetallicRoughness": {"baseColorTexture": {"index": 0}, **stated}}))
    assert mesh.materials[0].tint == tint


def test_a_material_without_metal_and_roughness_is_white(tmp_path: Path) -> None:
    assert read(tmp_path, lantern({})).materials[0].tint == (1.0, 1.0, 1.0)
