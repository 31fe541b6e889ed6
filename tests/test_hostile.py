"""Each hostile file gives the finding it should, by name, and never an approval in silence or a traceback."""

from __future__ import annotations

import json
import os
import struct
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from tests.support.clean_prop import net_locker
from tests.support.gltf_writer import GltfBuilder, pack_glb
from tidegate import Terms, Verdict, examine, list_drop, read_names

SCHEME = read_names()
POSITIONS = np.float32([(0, 0, 0), (1, 0, 0), (0, 1, 0)])


def judged(path: Path) -> Verdict:
    terms = Terms(scheme=SCHEME, rule_set="first_look", forced_set=True)
    verdicts = examine(list_drop(path, SCHEME), terms)
    assert len(verdicts) == 1
    return verdicts[0]


def triangle() -> GltfBuilder:
    build = GltfBuilder()
    build.mesh("plank", POSITIONS, [(0, 1, 2)], uvs=[POSITIONS[:, :2]])
    return build


def edited(edit: Callable[[dict[str, Any]], object]) -> bytes:
    build = triangle()
    edit(build.json)
    return build.glb()


def first_primitive(root: dict[str, Any]) -> dict[str, Any]:
    found: dict[str, Any] = root["meshes"][0]["primitives"][0]
    return found


def set_count(root: dict[str, Any]) -> None:
    root["accessors"][0]["count"] = 2**40


def loop(root: dict[str, Any]) -> None:
    root["nodes"] = [{"children": [1], "mesh": 0}, {"children": [0]}]


def require(name: str) -> Callable[[dict[str, Any]], object]:
    return lambda root: root.update(extensionsUsed=[name], extensionsRequired=[name])


def past_the_end(root: dict[str, Any]) -> None:
    root["bufferViews"][0]["byteLength"] = 1 << 30


GLB = triangle().glb()
# What lies in the drop, and words of the message that names it. All of these can not be judged.
UNREADABLE: dict[str, tuple[str, bytes, str]] = {
    "empty": ("plank.glb", b"", "empty"),
    "cut in its header": ("plank.glb", GLB[:10], "cut off"),
    "cut in its JSON": ("plank.glb", GLB[:60], "cut off"),
    "one byte short": ("plank.glb", GLB[:-1], "cut off"),
    "a pointer text": (
        "plank.glb",
        b"version https://git-lfs.github.com/spec/v1\noid sha256:" + b"0" * 64 + b"\nsize 5\n",
        "pointer text",
    ),
    "random bytes": ("plank.glb", bytes(range(256)) * 8, "neither"),
    "zeros": ("plank.glb", bytes(4096), ""),
    "no JSON": ("plank.glb", pack_glb(b"{not json"), "JSON"),
    "JSON of another kind": ("plank.glb", pack_glb(b"[1, 2, 3]"), ""),
    "no asset": ("plank.glb", edited(lambda root: root.pop("asset")), "asset"),
    "glTF 1": ("plank.glb", edited(lambda root: root["asset"].update(version="1.0")), "1.0"),
    "JSON nested deeply": ("plank.gltf", b'{"asset":{"version":"2.0"},"extras":' + b"[" * 200_000, ""),
    "counts beyond any file": ("plank.glb", edited(set_count), ""),
    "a view past its buffer": ("plank.glb", edited(past_the_end), ""),
    "an index past its list": ("plank.glb", edited(lambda root: first_primitive(root).update(material=7)), "material"),
    "a negative index": ("plank.glb", edited(lambda root: first_primitive(root).update(indices=-1)), "indices"),
    "a text for a number": ("plank.glb", edited(lambda root: first_primitive(root).update(mode="4")), "mode"),
    "nodes in a ring": ("plank.glb", edited(loop), "ancestor"),
    "meshopt, required": ("plank.glb", edited(require("EXT_meshopt_compression")), "EXT_meshopt_compression"),
    "an unknown extension, required": ("plank.glb", edited(require("XYZ_tide_geometry")), "XYZ_tide_geometry"),
    "a buffer elsewhere": (
        "plank.gltf",
        json.dumps({**triangle().json, "buffers": [{"byteLength": 96, "uri": "../../etc/passwd"}]}).encode(),
        "outside",
    ),
    "a buffer that is not there": ("plank.gltf", triangle().gltf("gone.bin"), "gone.bin"),
    "a PLY without a body": (
        "plank.ply",
        b"ply\nformat ascii 1.0\nelement vertex 3\nproperty float x\nend_header\n",
        "",
    ),
    "a PLY of too many vertices": (
        "plank.ply",
        b"ply\nformat binary_little_endian 1.0\nelement vertex 4000000000\nproperty float x\nproperty float y\n"
        b"property float z\nelement face 1\nproperty list uchar int vertex_indices\nend_header\n\0\0\0\0",
        "",
    ),
    "a corner that is not there": ("plank.obj", b"v 0 0 0\nv 1 0 0\nv 0 1 0\nf 1 2 9\n", "line 4"),
    "an STL cut off": ("plank.stl", bytes(80) + struct.pack("<I", 1000) + bytes(50), ""),
}


@pytest.mark.parametrize("case", UNREADABLE)
def test_a_mesh_that_cannot_be_read_is_unjudged_and_says_why(tmp_path: Path, case: str) -> None:
    name, data, says = UNREADABLE[case]
    (tmp_path / name).write_bytes(data)
    verdict = judged(tmp_path / name)
    assert verdict.verdict == "unjudged", [finding.message for finding in verdict.findings]
    told = [finding for finding in verdict.findings if finding.check == "unreadable-file"]
    assert [(finding.level, finding.place.file) for finding in told] == [("error", name)]
    assert says in told[0].message
    assert told[0].help
    assert not [finding for finding in verdict.findings if finding.check == "check-failed"]


@pytest.mark.parametrize("cut", range(0, len(GLB), 37))
def test_wherever_a_glb_is_cut_it_is_unreadable(tmp_path: Path, cut: int) -> None:
    (tmp_path / "plank.glb").write_bytes(GLB[:cut])
    verdict = judged(tmp_path / "plank.glb")
    assert [f.check for f in verdict.findings if f.level == "error"] == ["unreadable-file"]


# Read, but with something that has to be told: the text, the check, and words of its message.
DOUBTFUL: dict[str, tuple[str, str, str]] = {
    "a texture corner that is not there": (
        "v 0 0 0\nv 1 0 0\nv 0 1 0\nvt 0 0\nf 1/1 2/2 3/3\n",
        "doubtful-mesh-data",
        "texture vertex",
    ),
    "no number": ("v 0 0 0\nv 1 0 0\nv 0 one 0\nv 0 1 0\nf 1 2 4\n", "doubtful-mesh-data", "line 3"),
    "not a number": ("v 0 0 nan\nv 1 0 0\nv 0 1 0\nf 1 2 3\n", "doubtful-mesh-data", "NaN"),
    "no material library": (
        "mtllib gone.mtl\nv 0 0 0\nv 1 0 0\nv 0 1 0\nf 1 2 3\n",
        "missing-texture-file",
        "gone.mtl",
    ),
    "a library above the drop": (
        "mtllib ../../etc/passwd\nv 0 0 0\nv 1 0 0\nv 0 1 0\nf 1 2 3\n",
        "outside-reference",
        "../../etc/passwd",
    ),
}


@pytest.mark.parametrize("case", DOUBTFUL)
def test_doubtful_text_is_told_with_its_place(tmp_path: Path, case: str) -> None:
    text, check, says = DOUBTFUL[case]
    (tmp_path / "plank.obj").write_text(text)
    told = [f for f in judged(tmp_path / "plank.obj").findings if f.check == check and f.level != "note"]
    assert any(says in finding.message for finding in told), [f.message for f in told]


def test_an_obj_without_a_face_is_no_approved_prop(tmp_path: Path) -> None:
    (tmp_path / "plank.obj").write_text("v 0 0 0\nv 1 0 0\nv 0 1 0\n")
    verdict = judged(tmp_path / "plank.obj")
    assert verdict.verdict != "approved"
    assert verdict.findings[0].check in ("unreadable-file", "missing-mesh", "doubtful-mesh-data")


def test_an_unknown_material_extension_is_a_note(tmp_path: Path) -> None:
    def edit(root: dict[str, Any]) -> None:
        root["materials"] = [{"name": "oak", "extensions": {"XYZ_tide_sheen": {}}}]
        root["extensionsUsed"] = ["XYZ_tide_sheen"]
        first_primitive(root)["material"] = 0

    (tmp_path / "plank.glb").write_bytes(edited(edit))
    verdict = judged(tmp_path / "plank.glb")
    assert verdict.verdict == "approved"
    assert [f.level for f in verdict.findings if "XYZ_tide_sheen" in f.message] == ["note"]


def test_not_a_number_in_a_glb_is_an_error(tmp_path: Path) -> None:
    build = GltfBuilder()
    spoiled = POSITIONS.copy()
    spoiled[1, 0] = np.nan
    build.mesh("plank", spoiled, [(0, 1, 2)])
    for accessor in build.json["accessors"]:
        accessor.pop("min", None)
        accessor.pop("max", None)
    (tmp_path / "plank.glb").write_bytes(build.glb())
    verdict = judged(tmp_path / "plank.glb")
    assert [f.check for f in verdict.findings if f.level == "error"] == ["doubtful-mesh-data"]


@pytest.mark.skipif(os.name != "posix", reason="links and pipes")
def test_links_and_pipes_are_told_and_never_opened(tmp_path: Path) -> None:
    drop = net_locker(tmp_path)
    secret = tmp_path / "secret.png"
    secret.write_bytes(b"none of the gate's business")
    (drop / "net_locker_base_color.png").unlink()
    (drop / "net_locker_base_color.png").symlink_to(secret)
    (drop / "loop.png").symlink_to("loop.png")
    os.mkfifo(drop / "net_locker_opacity.png")
    verdict = judged(drop)
    told = " ".join(f.message for f in verdict.findings if f.check == "doubtful-mesh-data")
    assert "net_locker_base_color.png: it is a link that leads outside the drop and was not followed" in told
    assert "net_locker_opacity.png: it is no regular file and was not opened" in told
    assert "loop.png" in told
    record_paths = {file.path for file in verdict.facts.prop.files}
    assert "net_locker_base_color.png" not in record_paths
    assert not [m for m in verdict.facts.prop.maps if m.path == "net_locker_base_color.png"]


def test_a_folder_nobody_may_look_into_leaves_the_drop_unjudged(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    drop = net_locker(tmp_path)
    (drop / "more").mkdir()
    listed = os.scandir

    def refuse(folder: Any) -> Any:
        if Path(folder) == drop / "more":
            raise PermissionError(13, "Permission denied")
        return listed(folder)

    monkeypatch.setattr(os, "scandir", refuse)
    verdict = judged(drop)
    assert verdict.verdict == "unjudged"
    (told,) = [finding for finding in verdict.findings if finding.check == "unreadable-file"]
    assert (told.place.file, "cannot be listed: Permission denied" in told.message) == ("more", True)
