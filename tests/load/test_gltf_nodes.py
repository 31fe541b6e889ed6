"""The node tree: transforms, mirrored and sheared nodes, scenes, and trees that are none."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
import pytest

from tests.support.gltf_writer import GltfBuilder
from tidegate.errors import LimitExceeded, UnreadableFile
from tidegate.load.gltf import read_gltf
from tidegate.load.limits import ReadLimits
from tidegate.load.references import DropFolder
from tidegate.model.mesh import MeshFile

TRIANGLE = np.array([(0, 0, 0), (1, 0, 0), (0, 1, 0)], float)
HALF = 0.5**0.5


def bollard(**node: Any) -> GltfBuilder:
    build = GltfBuilder()
    uv = np.array([(0, 0), (1, 0), (0, 1)])
    tangents, normals = [(1, 0, 0, 1)] * 3, [(0, 0, 1)] * 3
    build.mesh("bollard", TRIANGLE, [(0, 1, 2)], uvs=[uv], normals=normals, tangents=tangents, node=False)
    build.node("bollard", mesh=0, **node)
    return build


def read(tmp_path: Path, build: GltfBuilder, **limits: Any) -> MeshFile:
    (tmp_path / "bollard.glb").write_bytes(build.glb())
    return read_gltf(DropFolder(tmp_path), "bollard.glb", ReadLimits(**limits))


def codes(mesh: MeshFile) -> list[str]:
    return [note.code for note in mesh.notes]


def test_translation_rotation_scale_in_that_order(tmp_path: Path) -> None:
    # glTF 2.0 section 3.5.3: T * R * S. (1,0,0) is scaled to (2,0,0), turned to (0,2,0), moved to (10,2,0).
    build = bollard(translation=[10, 0, 0], rotation=[0, 0, HALF, HALF], scale=[2, 3, 1])
    mesh = read(tmp_path, build)
    assert np.allclose(mesh.parts[0].positions, [(10, 0, 0), (10, 2, 0), (7, 0, 0)], atol=1e-15)
    node = mesh.nodes[0]
    assert (node.translation, node.scale, node.rotation) == ((10, 0, 0), (2, 3, 1), (0, 0, HALF, HALF))
    assert node.world_determinant == pytest.approx(6, abs=1e-12)


def test_parents_come_first(tmp_path: Path) -> None:
    build = bollard()
    build.json["nodes"][0]["translation"] = [1, 0, 0]
    parent = build.node("pier", scale=[2, 2, 2], children=[0])
    build.json["scenes"][0]["nodes"] = [parent]
    mesh = read(tmp_path, build)
    assert mesh.parts[0].positions.tolist() == [[2, 0, 0], [4, 0, 0], [2, 2, 0]]
    assert [(node.name, node.parent, node.mesh) for node in mesh.nodes] == [("bollard", 1, "bollard"), ("pier", -1, "")]


@pytest.mark.parametrize("as_matrix", [False, True])
def test_a_mirrored_node_turns_the_winding(tmp_path: Path, as_matrix: bool) -> None:
    # glTF 2.0 section 3.7.4: a negative determinant makes clockwise faces the front.
    if as_matrix:
        build = bollard(matrix=[-1, 0, 0, 0, 0, 1, 0, 0, 0, 0, 1, 0, 0, 0, 0, 1])
    else:
        build = bollard(scale=[-1, 1, 1])
    mesh = read(tmp_path, build)
    part = mesh.parts[0]
    assert part.flipped
    assert part.triangles.tolist() == [[0, 2, 1]]
    assert part.uv_layers[0].triangles.tolist() == [[0, 2, 1]]
    corners = part.positions[part.triangles[0]]
    face_normal = np.cross(corners[1] - corners[0], corners[2] - corners[0])
    assert face_normal.tolist() == [0, 0, 1]
    assert part.normals is not None
    assert part.normals.tolist() == [[0, 0, 1]] * 3
    # The bitangent cross(n, t) * w was +y, which the mirror leaves alone; it must come out the same again.
    assert part.tangents is not None
    t, w = part.tangents[0, :3], part.tangents[0, 3]
    assert (np.cross(part.normals[0], t) * w).tolist() == [0, 1, 0]
    assert mesh.nodes[0].world_determinant == -1
    assert mesh.nodes[0].scale == (-1, 1, 1)


def test_two_mirrors_are_none(tmp_path: Path) -> None:
    build = bollard(scale=[-1, 1, 1])
    build.json["scenes"][0]["nodes"] = [build.node("pier", scale=[1, -2, 1], children=[0])]
    part = read(tmp_path, build).parts[0]
    assert not part.flipped
    assert part.triangles.tolist() == [[0, 1, 2]]


def test_normals_turn_by_the_inverse_transpose(tmp_path: Path) -> None:
    # Stretching a 45 degree slope by 2 along x turns its normal to (1, 2) / sqrt(5), not (2, 1).
    build = GltfBuilder()
    build.mesh("ramp", TRIANGLE, [(0, 1, 2)], normals=[(HALF, HALF, 0)] * 3)
    build.json["nodes"][0]["scale"] = [2, 1, 1]
    normals = read(tmp_path, build).parts[0].normals
    assert np.allclose(normals, [(1 / 5**0.5, 2 / 5**0.5, 0)] * 3, atol=1e-7)


def test_a_matrix_is_taken_apart(tmp_path: Path) -> None:
    parts = bollard(translation=[1, 2, 3], rotation=[0.5, 0.5, 0.5, 0.5], scale=[2, 3, 4])
    # rotation (.5 .5 .5 .5) sends x to y, y to z, z to x
    matrix = [0, 2, 0, 0, 0, 0, 3, 0, 4, 0, 0, 0, 1, 2, 3, 1]
    one, other = read(tmp_path, parts), read(tmp_path, bollard(matrix=matrix))
    assert one.parts[0].positions.tolist() == other.parts[0].positions.tolist()
    node = other.nodes[0]
    assert (node.translation, node.rotation, node.scale, node.sheared) == ((1, 2, 3), (0.5,) * 4, (2, 3, 4), False)
    assert other.notes == ()


@pytest.mark.parametrize(("slant", "sheared"), [(0.5, True), (2e-4, True), (5e-5, False)])
def test_shear_has_two_sides(tmp_path: Path, slant: float, sheared: bool) -> None:
    mesh = read(tmp_path, bollard(matrix=[1, 0, 0, 0, slant, 1, 0, 0, 0, 0, 1, 0, 0, 0, 0, 1]))
    assert mesh.nodes[0].sheared is sheared
    assert codes(mesh) == (["sheared-node"] if sheared else [])
    assert mesh.parts[0].positions[2].tolist() == [slant, 1, 0]


def test_flattened(tmp_path: Path) -> None:
    mesh = read(tmp_path, bollard(scale=[1, 0, 1]))
    assert codes(mesh) == ["flattened-node"]
    assert mesh.parts[0].normals is None
    assert not mesh.parts[0].flipped


def test_rotation_that_is_no_unit_quaternion(tmp_path: Path) -> None:
    long = read(tmp_path, bollard(rotation=[0, 0, 3, 3]))
    unit = read(tmp_path, bollard(rotation=[0, 0, HALF, HALF]))
    assert codes(long) == ["rotation-not-unit"]
    assert np.allclose(long.parts[0].positions, unit.parts[0].positions, atol=1e-15)
    nothing = read(tmp_path, bollard(rotation=[0, 0, 0, 0]))
    assert codes(nothing) == ["rotation-not-unit"]
    assert nothing.parts[0].positions.tolist() == TRIANGLE.tolist()


def test_other_scenes_are_said_aloud(tmp_path: Path) -> None:
    build = bollard()
    build.node("other", root=False, mesh=0)
    build.json["scenes"].append({"nodes": [1]})
    assert codes(read(tmp_path, build)) == ["several-scenes"]
    build.json["scene"] = 1
    assert [part.node for part in read(tmp_path, build).parts] == ["other"]
    build.json["scene"] = 2
    with pytest.raises(UnreadableFile, match="not there"):
        read(tmp_path, build)


def test_without_scenes_every_root_counts(tmp_path: Path) -> None:
    build = bollard()
    build.node("pier", children=[0])
    build.node("second", mesh=0)
    del build.json["scenes"], build.json["scene"]
    assert [part.node for part in read(tmp_path, build).parts] == ["bollard", "second"]


def test_a_child_in_the_scene_list_is_placed_once(tmp_path: Path) -> None:
    build = bollard(translation=[1, 0, 0])
    build.node("pier", children=[0], translation=[0, 5, 0])
    mesh = read(tmp_path, build)
    assert build.json["scenes"][0]["nodes"] == [0, 1]
    assert codes(mesh) == ["scene-lists-child"]
    assert [part.positions[0].tolist() for part in mesh.parts] == [[1, 5, 0]]


def test_instancing_is_said_aloud(tmp_path: Path) -> None:
    build = bollard(extensions={"EXT_mesh_gpu_instancing": {"attributes": {"TRANSLATION": 0}}})
    build.json["extensionsUsed"] = build.json["extensionsRequired"] = ["EXT_mesh_gpu_instancing"]
    mesh = read(tmp_path, build)
    assert codes(mesh) == ["instancing"]
    assert len(mesh.parts) == 1


def test_a_long_chain_is_no_problem(tmp_path: Path) -> None:
    build = bollard()
    for number in range(3000):
        build.json["nodes"].append({"children": [number], "translation": [1, 0, 0]})
    build.json["scenes"][0]["nodes"] = [3000]
    assert read(tmp_path, build).parts[0].positions[0].tolist() == [3000, 0, 0]
    with pytest.raises(LimitExceeded, match="too many nodes"):
        read(tmp_path, build, nodes=3000)


@pytest.mark.parametrize(
    ("nodes", "words"),
    [
        ([{"children": [0]}], "its own ancestor"),
        ([{"children": [1]}, {"children": [0]}], "its own ancestor"),
        ([{}, {"children": [2]}, {"children": [1]}], "its own ancestor"),
        ([{"children": [2]}, {"children": [2]}, {}], "two parents"),
        ([{"children": [1, 1]}, {}], "two parents"),
        ([{"children": [5]}], "not there"),
        ([{"children": ["x"]}], "no whole number"),
        ([{"children": 1}], "no JSON array"),
        ([{"mesh": 7}], "not there"),
        ([{"matrix": [1] * 15}], "16 finite numbers"),
        ([{"matrix": [1e999] * 16}], "no JSON number"),
        ([{"matrix": [1, 0, 0, 1, 0, 1, 0, 0, 0, 0, 1, 0, 0, 0, 0, 1]}], "no transform of space"),
        ([{"translation": [0, 0, None]}], "3 finite numbers"),
        ([{"scale": [1e308, 1, 1], "rotation": [0, 0.9999, 0, 0.01]}, {"scale": [0, 10**400, 0]}], "finite"),
        ([{"name": 5}], "no text"),
        ([7], "no JSON object"),
    ],
)
def test_trees_that_are_none(tmp_path: Path, nodes: list[Any], words: str) -> None:
    build = bollard()
    build.json["nodes"] = nodes
    build.json["scenes"] = [{"nodes": [0]}]
    with pytest.raises(UnreadableFile, match=words) as caught:
        read(tmp_path, build)
    assert caught.value.path == "bollard.glb"
