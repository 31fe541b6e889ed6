"""glTF end to end: geometry, UV layers, strips and fans, instances, Draco, counts of everything else."""

from __future__ import annotations

import hashlib
import os
from pathlib import Path

import numpy as np
import pytest
import trimesh

from tests.support.gltf_writer import GltfBuilder, pack_glb, write_glb, write_gltf
from tidegate.errors import NoReader, UnreadableFile
from tidegate.load import gltf_draco
from tidegate.load.gltf import read_gltf
from tidegate.load.references import DropFolder
from tidegate.model.mesh import MeshFile

# A square plate in the z = 0 plane, seen from +z: counter-clockwise, its picture upright.
PLATE = np.array([(0, 0, 0), (2, 0, 0), (2, 1, 0), (0, 1, 0)], float)
PLATE_UV = np.array([(0, 0), (1, 0), (1, 0.5), (0, 0.5)], float)
PLATE_TRIANGLES = np.array([(0, 1, 2), (0, 2, 3)])


def plate(**more: object) -> GltfBuilder:
    build = GltfBuilder()
    build.mesh("plate", PLATE, PLATE_TRIANGLES, uvs=[PLATE_UV], **more)
    return build


def read(tmp_path: Path, data: GltfBuilder | bytes, name: str = "plate.glb") -> MeshFile:
    (tmp_path / name).write_bytes(data.glb() if isinstance(data, GltfBuilder) else data)
    return read_gltf(DropFolder(tmp_path), name)


def signed_area(uv: np.ndarray) -> float:
    (a, b, c) = uv
    return float((b[0] - a[0]) * (c[1] - a[1]) - (c[0] - a[0]) * (b[1] - a[1])) / 2


def codes(mesh: MeshFile) -> list[tuple[str, str]]:
    return [(note.code, note.level) for note in mesh.notes]


def test_a_plate(tmp_path: Path) -> None:
    mesh = read(tmp_path, plate(normals=[(0, 0, 1)] * 4, tangents=[(1, 0, 0, 1)] * 4))
    (part,) = mesh.parts
    assert (part.node, part.mesh, part.material, part.flipped, part.skinned) == ("plate", "plate", -1, False, False)
    assert part.positions.tolist() == PLATE.tolist()
    assert part.triangles.tolist() == PLATE_TRIANGLES.tolist()
    assert part.triangles.dtype == np.int32
    assert part.positions.dtype == np.float64
    (layer,) = part.uv_layers
    assert (layer.index, layer.name) == (0, "TEXCOORD_0")
    assert layer.uv.tolist() == PLATE_UV.tolist()
    assert part.normals is not None
    assert part.normals.tolist() == [[0, 0, 1]] * 4
    assert part.tangents is not None
    assert part.tangents.tolist() == [[1, 0, 0, 1]] * 4
    assert (mesh.format, mesh.unit, mesh.unit_stated, mesh.up_axis, mesh.notes) == ("glb", 1.0, True, "y", ())
    for array in (part.positions, part.triangles, layer.uv, layer.triangles, part.normals, part.tangents):
        assert not array.flags.writeable


def test_v_is_turned_up(tmp_path: Path) -> None:
    # glTF 2.0 section 3.8.3: (0, 0) is the upper left corner. An upright picture on a front face has a negative UV area
    # as stored, and a positive one V up: raw (0,1) (1,1) (0,0) reads (0,0) (1,0) (0,1).
    build = GltfBuilder()
    build.mesh("sign", [(0, 0, 0), (1, 0, 0), (0, 1, 0)], [(0, 1, 2)])
    raw = np.array([(0, 1), (1, 1), (0, 0)], np.float32)
    build.json["meshes"][0]["primitives"][0]["attributes"]["TEXCOORD_0"] = build.accessor(raw)
    uv = read(tmp_path, build).parts[0].uv_layers[0].uv
    assert uv.tolist() == [[0, 0], [1, 0], [0, 1]]
    assert signed_area(uv) == 0.5
    assert signed_area(raw) == -0.5


def test_smallest_glb() -> None:
    # 27 bytes of JSON padded to 28, in a file of 48 bytes (glTF 2.0 section 4.4). The hash was computed with sha256sum.
    data = pack_glb(b'{"asset":{"version":"2.0"}}')
    assert len(data) == 48
    assert data[:20].hex(" ") == "67 6c 54 46 02 00 00 00 30 00 00 00 1c 00 00 00 4a 53 4f 4e"
    assert hashlib.sha256(data).hexdigest() == "d52ea15ab28b6a8dbc5a7623dd23c044eaa0f6460322c22030cc6b976e365637"


def test_smallest_glb_is_read_and_found_empty(tmp_path: Path) -> None:
    mesh = read(tmp_path, pack_glb(b'{"asset":{"version":"2.0"}}'))
    assert mesh.parts == ()
    assert codes(mesh) == [("no-triangles", "error")]


def test_every_truncation_of_a_glb_is_refused(tmp_path: Path) -> None:
    build = GltfBuilder()
    build.mesh("net float", PLATE[:3], np.array([0, 1, 2], np.uint16))
    data = build.glb()
    assert read(tmp_path, data).notes == ()
    for length in reversed(range(len(data))):  # cutting one file shorter is much quicker than writing each anew
        os.truncate(tmp_path / "plate.glb", length)
        with pytest.raises(UnreadableFile) as caught:
            read_gltf(DropFolder(tmp_path), "plate.glb")
        assert caught.value.path == "plate.glb"
        assert caught.value.came


def test_all_uv_layers(tmp_path: Path) -> None:
    build = GltfBuilder()
    second = PLATE_UV * 0.5 + 3.0
    build.mesh("plate", PLATE, PLATE_TRIANGLES, uvs=[PLATE_UV, second, PLATE_UV * 2])
    layers = read(tmp_path, build).parts[0].uv_layers
    assert [layer.index for layer in layers] == [0, 1, 2]
    assert layers[1].uv.tolist() == second.tolist()
    assert layers[1].triangles.tolist() == PLATE_TRIANGLES.tolist()


def test_uv_layers_with_a_gap_keep_their_numbers(tmp_path: Path) -> None:
    build = GltfBuilder()
    build.mesh("plate", PLATE, PLATE_TRIANGLES, uvs=[PLATE_UV, PLATE_UV])
    attributes = build.json["meshes"][0]["primitives"][0]["attributes"]
    attributes["TEXCOORD_3"] = attributes.pop("TEXCOORD_1")
    mesh = read(tmp_path, build)
    assert [layer.index for layer in mesh.parts[0].uv_layers] == [0, 3]
    assert codes(mesh) == [("uv-layer-gap", "warning")]


@pytest.mark.parametrize(
    ("mode", "numbers", "wanted"),
    [
        # glTF 2.0 section 3.7.2.1: strips p_i = {v_i, v_(i + 1 + i % 2), v_(i + 2 - i % 2)}, fans {v_(i+1), v_(i+2), v_0}
        (5, [0, 1, 3, 2], [(0, 1, 3), (1, 2, 3)]),
        (6, [0, 1, 2, 3], [(1, 2, 0), (2, 3, 0)]),
        (4, [0, 1, 2], [(0, 1, 2)]),
        (None, [0, 1, 2], [(0, 1, 2)]),
    ],
)
def test_strips_and_fans(tmp_path: Path, mode: int | None, numbers: list[int], wanted: list[tuple[int, ...]]) -> None:
    build = GltfBuilder()
    build.mesh("plate", PLATE, numbers, mode=mode)
    part = read(tmp_path, build).parts[0]
    assert [tuple(row) for row in part.triangles.tolist()] == wanted
    corners = part.positions[part.triangles]
    normals = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    assert (normals[:, 2] > 0).all()


def test_without_indices(tmp_path: Path) -> None:
    build = GltfBuilder()
    build.mesh("plate", PLATE[[0, 1, 2, 0, 2, 3]])
    assert read(tmp_path, build).parts[0].triangles.tolist() == [[0, 1, 2], [3, 4, 5]]


@pytest.mark.parametrize("kind", [np.uint8, np.uint16, np.uint32])
def test_index_types(tmp_path: Path, kind: type) -> None:
    build = GltfBuilder()
    build.mesh("plate", PLATE, PLATE_TRIANGLES.astype(kind))
    assert read(tmp_path, build).parts[0].triangles.tolist() == PLATE_TRIANGLES.tolist()


@pytest.mark.parametrize("mode", [0, 1, 2, 3])
def test_points_and_lines_are_said_aloud(tmp_path: Path, mode: int) -> None:
    build = plate()
    build.json["meshes"][0]["primitives"].append(build.primitive(PLATE, mode=mode))
    mesh = read(tmp_path, build)
    assert len(mesh.parts) == 1
    assert codes(mesh) == [("points-or-lines", "warning")]
    assert mesh.notes[0].place == "meshes[0].primitives[1]"


def test_left_over_indices_and_empty_primitives(tmp_path: Path) -> None:
    build = GltfBuilder()
    build.mesh("plate", PLATE, [0, 1, 2, 3, 0])
    build.mesh("nothing", PLATE, [0, 1])
    mesh = read(tmp_path, build)
    assert [part.triangles.tolist() for part in mesh.parts] == [[[0, 1, 2]]]
    assert codes(mesh) == [
        ("left-over-indices", "warning"),
        ("left-over-indices", "warning"),
        ("no-triangles", "warning"),
    ]


def test_primitives_that_share_vertices_keep_only_their_own(tmp_path: Path) -> None:
    build = plate()
    first = build.json["meshes"][0]["primitives"][0]
    first["indices"] = build.accessor(np.array([0, 1, 2], np.uint16))
    build.json["meshes"][0]["primitives"].append(
        {**first, "indices": build.accessor(np.array([3, 0, 2], np.uint16)), "material": build.material("rope")}
    )
    one, other = read(tmp_path, build).parts
    assert one.positions.tolist() == PLATE[:3].tolist()
    assert other.positions.tolist() == PLATE[[0, 2, 3]].tolist()
    assert other.triangles.tolist() == [[2, 0, 1]]
    assert other.uv_layers[0].uv.tolist() == PLATE_UV[[0, 2, 3]].tolist()


def test_primitives_of_one_material_are_one_part(tmp_path: Path) -> None:
    """A writer that cuts a mesh at 65,535 vertices cuts no seam: the two halves of the plate stay one part."""
    build = plate()
    first = build.json["meshes"][0]["primitives"][0]
    first["indices"] = build.accessor(np.array([0, 1, 2], np.uint16))
    build.json["meshes"][0]["primitives"].append({**first, "indices": build.accessor(np.array([3, 0, 2], np.uint16))})
    (part,) = read(tmp_path, build).parts
    # Vertices 0, 1, 2 of the first half, then 0, 2, 3 of the second, whose corner order 3, 0, 2 starts at 3 + 2.
    assert part.positions.tolist() == PLATE[[0, 1, 2, 0, 2, 3]].tolist()
    assert part.triangles.tolist() == [[0, 1, 2], [5, 3, 4]]
    assert part.uv_layers[0].uv.tolist() == PLATE_UV[[0, 1, 2, 0, 2, 3]].tolist()
    assert part.uv_layers[0].triangles.tolist() == part.triangles.tolist()


def test_primitives_with_other_attributes_stay_apart(tmp_path: Path) -> None:
    build = plate()
    build.json["meshes"][0]["primitives"].append(build.primitive(PLATE, PLATE_TRIANGLES))
    assert sorted(len(part.uv_layers) for part in read(tmp_path, build).parts) == [0, 1]


def test_parts_are_sorted_and_every_instance_is_one(tmp_path: Path) -> None:
    build = GltfBuilder()
    rope, hull = build.material("rope"), build.material("hull")
    b = build.mesh("b", PLATE, PLATE_TRIANGLES, material=rope, node=False)
    a = build.mesh("a", PLATE, PLATE_TRIANGLES, material=rope, node=False)
    build.json["meshes"][a]["primitives"].append(build.primitive(PLATE, PLATE_TRIANGLES, material=hull))
    build.node("second", mesh=a)
    build.node("first", mesh=a, translation=[10, 0, 0])
    build.node("third", mesh=b)
    mesh = read(tmp_path, build)
    names = [(part.mesh, part.node, mesh.materials[part.material].name) for part in mesh.parts]
    assert names == [
        ("a", "first", "hull"),
        ("a", "first", "rope"),
        ("a", "second", "hull"),
        ("a", "second", "rope"),
        ("b", "third", "rope"),
    ]
    assert mesh.parts[0].positions[0].tolist() == [10, 0, 0]
    assert mesh.parts[2].positions[0].tolist() == [0, 0, 0]


def test_a_mesh_that_no_node_places_is_said_aloud(tmp_path: Path) -> None:
    build = plate()
    build.mesh("spare", PLATE, PLATE_TRIANGLES, node=False)
    mesh = read(tmp_path, build)
    assert [part.mesh for part in mesh.parts] == ["plate"]
    assert codes(mesh) == [("mesh-not-shown", "warning")]
    assert "'spare'" in mesh.notes[0].message


def test_names_stay_as_they_are(tmp_path: Path) -> None:
    build = GltfBuilder()
    build.mesh("Möwe  ", PLATE, PLATE_TRIANGLES)
    build.mesh("Möwe  ", PLATE, PLATE_TRIANGLES)
    build.mesh("", PLATE, PLATE_TRIANGLES)
    del build.json["meshes"][2]["name"]
    mesh = read(tmp_path, build)
    assert [(part.node, part.mesh) for part in mesh.parts] == [("", ""), ("Möwe  ", "Möwe  "), ("Möwe  ", "Möwe  ")]
    assert codes(mesh) == [("name-twice", "note"), ("name-twice", "note")]


def test_json_with_a_buffer_file_beside_it(tmp_path: Path) -> None:
    write_gltf(tmp_path / "plate.gltf", plate(), buffer="plate data.bin")
    text = (tmp_path / "plate.gltf").read_text().replace("plate data.bin", "plate%20data.bin")
    (tmp_path / "plate.gltf").write_text(text)
    mesh = read_gltf(DropFolder(tmp_path), "plate.gltf")
    assert mesh.format == "gltf"
    assert mesh.parts[0].positions.tolist() == PLATE.tolist()
    (reference,) = mesh.references
    assert (reference.text, reference.kind, reference.status) == ("plate%20data.bin", "buffer", "present")
    assert reference.path == "plate data.bin"


def test_a_mesh_in_a_folder_below_the_drop(tmp_path: Path) -> None:
    (tmp_path / "mesh").mkdir()
    build = plate(material=0)
    build.material("iron", base_color="../maps/iron.png")
    write_gltf(tmp_path / "mesh" / "plate.gltf", build)
    mesh = read_gltf(DropFolder(tmp_path, ("mesh/plate.gltf", "mesh/plate.bin", "maps/iron.png")), "mesh/plate.gltf")
    assert [(ref.status, ref.path) for ref in mesh.references] == [
        ("present", "maps/iron.png"),
        ("present", "mesh/plate.bin"),
    ]


def test_draco(tmp_path: Path) -> None:
    import DracoPy

    packed = DracoPy.encode(
        PLATE.astype(np.float32),
        PLATE_TRIANGLES.astype(np.uint32),
        quantization_bits=16,
        preserve_order=True,
        tex_coord=PLATE_UV.astype(np.float64),
    )
    ids = {a["attribute_type"]: a["unique_id"] for a in DracoPy.decode(packed).attributes}
    build = GltfBuilder()
    entry = {"componentType": 5126, "count": 4}
    attributes = {
        "POSITION": build.add("accessors", {**entry, "type": "VEC3"}),
        "TEXCOORD_0": build.add("accessors", {**entry, "type": "VEC2"}),
    }
    numbers = build.add("accessors", {"componentType": 5125, "count": 6, "type": "SCALAR"})
    by_id = {"POSITION": ids[DracoPy.AttributeType.POSITION], "TEXCOORD_0": ids[DracoPy.AttributeType.TEX_COORD]}
    body = {"bufferView": build.view(packed), "attributes": by_id}
    primitive = {"attributes": attributes, "indices": numbers, "extensions": {gltf_draco.EXTENSION: body}}
    build.node("plate", mesh=build.add("meshes", {"name": "plate", "primitives": [primitive]}))
    build.json["extensionsUsed"] = build.json["extensionsRequired"] = [gltf_draco.EXTENSION]
    part = read(tmp_path, build).parts[0]
    wanted = {tuple(np.round(np.concatenate(c), 3)) for c in np.dstack([PLATE[PLATE_TRIANGLES]])}
    got = {tuple(np.round(np.concatenate(c), 3)) for c in part.positions[part.triangles]}
    assert got == wanted
    # V as stored in the stream counts downwards.
    assert np.allclose(np.sort(part.uv_layers[0].uv[:, 1]), np.sort(1 - PLATE_UV[:, 1]), atol=1e-3)

    build.json["accessors"][0]["count"] = build.json["accessors"][1]["count"] = 5
    mesh = read(tmp_path, build)
    assert codes(mesh) == [("draco-count", "warning")]
    assert len(mesh.parts[0].positions) == 4

    build.blob[build.json["bufferViews"][0]["byteOffset"] + 12] ^= 0xFF
    with pytest.raises(UnreadableFile):
        read(tmp_path, build)


def test_draco_without_its_reader(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(gltf_draco, "has_draco_reader", lambda: False)
    build = plate()
    primitive = build.json["meshes"][0]["primitives"][0]
    primitive["extensions"] = {gltf_draco.EXTENSION: {"bufferView": build.view(b"DRACO"), "attributes": {}}}
    assert codes(read(tmp_path, build)) == [("draco-fallback", "note")]
    del build.json["accessors"][0]["bufferView"]
    with pytest.raises(NoReader, match="Draco") as caught:
        read(tmp_path, build)
    assert "pip install DracoPy" in caught.value.help


def test_counts_of_everything_else(tmp_path: Path) -> None:
    build = plate()
    build.json["animations"] = [{}, {}]
    build.json["cameras"] = [{"type": "perspective"}]
    build.json["extensions"] = {"KHR_lights_punctual": {"lights": [{"type": "point"}] * 3}}
    build.json["extensionsUsed"] = ["KHR_lights_punctual"]
    build.node("eye", camera=0)
    build.node("lamp", extensions={"KHR_lights_punctual": {"light": 0}})
    build.node("pivot")
    bone = build.node("bone")
    build.json["skins"] = [{"joints": [bone]}]
    build.json["nodes"][0]["skin"] = 0
    build.json["asset"]["generator"] = "by hand"
    mesh = read(tmp_path, build)
    assert (mesh.animations, mesh.cameras, mesh.lights, mesh.skins, mesh.generator) == (2, 1, 3, 1, "by hand")
    assert [(node.name, node.holds) for node in mesh.nodes] == [
        ("plate", "mesh"),
        ("eye", "camera"),
        ("lamp", "light"),
        ("pivot", ""),
        ("bone", "skin"),
    ]
    assert mesh.parts[0].skinned
    assert codes(mesh) == [("skinned", "note")]


def test_same_file_same_records(tmp_path: Path) -> None:
    build = plate(normals=[(0.1, 0.2, 0.9)] * 4)
    build.json["nodes"][0]["rotation"] = [0.1, 0.2, 0.3, 0.9273618495495703]
    first, second = read(tmp_path, build), read(tmp_path, build)
    assert first.parts[0].positions.tobytes() == second.parts[0].positions.tobytes()
    assert first.parts[0].normals is not None
    assert second.parts[0].normals is not None
    assert first.parts[0].normals.tobytes() == second.parts[0].normals.tobytes()
    assert (first.nodes, first.references, first.notes) == (second.nodes, second.references, second.notes)


def test_agrees_with_trimesh(tmp_path: Path) -> None:
    scene = trimesh.Scene()
    for name, angle in (("ball", 0.3), ("box", -1.2)):
        solid = trimesh.creation.icosphere(subdivisions=2) if name == "ball" else trimesh.creation.box((1, 2, 3))
        place = trimesh.transformations.rotation_matrix(angle, (1, 2, 3)) @ np.diag([2, 0.5, 1, 1])
        place[:3, 3] = (3, 4, angle)
        scene.add_geometry(solid, node_name=name, geom_name=name, transform=place)
    (tmp_path / "scene.glb").write_bytes(scene.export(file_type="glb"))
    mesh = read_gltf(DropFolder(tmp_path), "scene.glb")
    assert [part.mesh for part in mesh.parts] == ["ball", "box"]
    for part in mesh.parts:
        matrix, geometry = scene.graph[part.node]
        wanted = trimesh.transform_points(scene.geometry[geometry].triangles.reshape(-1, 3), matrix)
        assert np.allclose(part.positions[part.triangles].reshape(-1, 3), wanted, atol=1e-5)


def test_unused_images_are_references_too(tmp_path: Path) -> None:
    build = plate()
    build.add("images", {"uri": "spare.png", "name": "spare"})
    write_glb(tmp_path / "plate.glb", build)
    (reference,) = read_gltf(DropFolder(tmp_path), "plate.glb").references
    assert (reference.text, reference.status, reference.name) == ("spare.png", "missing", "spare")
