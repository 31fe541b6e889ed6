"""Meshes that lie, end early, loop, or reach for what is not theirs."""

from __future__ import annotations

import copy
import json
import random
import re
import struct
from collections.abc import Iterator
from typing import Any

from tests.gate.hostile_case import MTL, OBJ, Case, crate, folder, good_map
from tests.support.gltf_writer import GltfBuilder, pack_glb

OUTSIDE = (
    "../../secret.png",
    "../../../../../../etc/passwd",
    "/etc/passwd",
    "file:///etc/passwd",
    "file:../../secret.png",
    "\\\\server\\share\\wood.png",
    "//server/share/wood.png",
    "C:\\maps\\wood.png",
    "..\\..\\secret.png",
    "http://example.invalid/wood.png",
    "%2e%2e/%2e%2e/secret.png",
    "maps/../../../secret.png",
)
UNDEFINED = {
    "POSITION": "^doubtful-mesh-data: .* 1 of 24 vertices have a position that is not a number",
    "NORMAL": "^doubtful-mesh-data: .* 1 of 24 vertices have a normal that is not a number",
    "TEXCOORD_0": "^uvs-missing: [12] triangles? in .*UVs that are no finite numbers",
}
FAR = {
    "POSITION": "^unlikely-size: the prop measures",
    "NORMAL": "^normals-off-length: ",
    "TEXCOORD_0": r"^uvs-missing: [12] triangles? in .*UVs up to 3e\+38 tiles away",
}
WRONG = (None, -1, 1e308, "x", [], {}, True, 2**63, 0.5)
UNREADABLE = "unjudged"


def mesh_cases() -> Iterator[Case]:
    yield from _truncated()
    yield from _flipped()
    yield from _numbers()
    yield from _damaged_json()
    yield from _nodes()
    yield from _references()
    yield from _text_meshes()
    yield from _binary_meshes()


def _drop(name: str, told: str, glb: bytes, verdict: str = "returned", suffix: str = "glb") -> Case:
    name = f"furniture_{name}"
    return folder(name, told, {f"{name}.{suffix}": glb, "crate_base_color.png": good_map()}, verdict)


def _glb(build: GltfBuilder, root: dict[str, Any] | None = None) -> bytes:
    root = copy.deepcopy(build.json) if root is None else root
    root.setdefault("buffers", [{"byteLength": len(build.blob)}])
    return pack_glb(json.dumps(root, separators=(",", ":")).encode(), bytes(build.blob))


def _truncated() -> Iterator[Case]:
    data = crate().glb()
    cuts = sorted({1, 3, 4, 11, 12, 19, 20, *random.Random(3).sample(range(21, len(data)), 53)})
    for cut in cuts:
        words = r"cut off|first chunk" if cut >= 4 else "neither glTF JSON nor GLB"
        yield _drop(f"cutglb{cut:05d}", f"^unreadable-file: .*({words})", data[:cut], UNREADABLE)
    yield _drop("emptyglb", "^unreadable-file: .*empty", b"", UNREADABLE)


def _flipped() -> Iterator[Case]:
    """The first 20 bytes: magic, version, length, length and type of the first chunk (glTF 2.0 4.4)."""
    data = crate().glb()
    wanted = {
        0: "neither glTF JSON nor GLB",
        4: "another version",
        8: "cut off|after|length|end",
        12: "",
        16: "first chunk",
    }
    for at in range(20):
        for bit in (0, 7):
            if at // 4 in (2, 3) and at % 4 < 2:
                continue  # a length a little off may still be read; told by a note, not looked at here
            flipped = bytearray(data)
            flipped[at] ^= 1 << bit
            yield _drop(
                f"flipglb{at:02d}bit{bit}",
                f"^unreadable-file: .*({wanted[at // 4 * 4]})",
                bytes(flipped),
                UNREADABLE,
            )


def _numbers() -> Iterator[Case]:
    build = crate()
    base = copy.deepcopy(build.json)
    accessors = {name: base["accessors"][number] for name, number in _attributes(base).items()}
    rng = random.Random(5)
    for name in ("POSITION", "NORMAL", "TEXCOORD_0"):
        view = base["bufferViews"][accessors[name]["bufferView"]]
        for number in range(8):
            at = view["byteOffset"] + 4 * rng.randrange(view["byteLength"] // 4)
            value = (float("nan"), float("inf"), float("-inf"), 3e38)[number % 4]
            damaged = crate()
            damaged.blob[at : at + 4] = struct.pack("<f", value)
            told = FAR[name] if value == 3e38 else UNDEFINED[name]
            yield _drop(f"number{name.lower().replace('_', '')}{number}", told, damaged.glb())
    view = base["bufferViews"][base["accessors"][_indices(base)]["bufferView"]]
    for number in range(24):
        at = view["byteOffset"] + 2 * rng.randrange(view["byteLength"] // 2)
        damaged = crate()
        bad = (24, 25, 0x7FFF, 0xFFFE)[number % 4]  # vertices are 0 to 23; 0xFFFF alone is the restart mark
        damaged.blob[at : at + 2] = struct.pack("<H", bad)
        told = rf"^unreadable-file: .*indices lead to vertices that are not there \({bad:,}\)"
        yield _drop(f"index{number:02d}", told, damaged.glb(), UNREADABLE)


def _attributes(root: dict[str, Any]) -> dict[str, int]:
    return dict(root["meshes"][0]["primitives"][0]["attributes"])


def _indices(root: dict[str, Any]) -> int:
    return int(root["meshes"][0]["primitives"][0]["indices"])


def _damaged_json() -> Iterator[Case]:
    """One value of the JSON replaced; the report must name where."""
    build = crate()
    places: list[tuple[tuple[Any, ...], str]] = []
    for number in range(len(build.json["accessors"])):
        places += [(("accessors", number, key), key) for key in ("count", "componentType", "type", "bufferView")]
    for number in range(len(build.json["bufferViews"])):
        places += [(("bufferViews", number, key), key) for key in ("byteLength", "byteOffset", "buffer")]
    places += [(("meshes", 0, "primitives"), "primitives"), (("nodes", 0, "mesh"), "mesh"), (("meshes",), "meshes")]
    places += [
        (("accessors",), "accessors"),
        (("bufferViews",), "bufferViews"),
        (("buffers", 0, "byteLength"), "byteLength"),
    ]
    rng = random.Random(7)
    for number, (place, key) in enumerate(places):
        for wrong in rng.sample(WRONG, 3):
            root = copy.deepcopy(build.json)
            root["buffers"] = [{"byteLength": len(build.blob)}]
            at: Any = root
            for step in place[:-1]:
                at = at[step]
            at[place[-1]] = wrong
            if key in ("byteOffset", "bufferView", "mesh") and wrong is None:
                continue  # as good as absent, which is allowed there
            name = f"json{number:02d}{key.lower()}{WRONG.index(wrong)}"
            if place[-1] == "primitives" and wrong == []:  # an empty mesh is no lie, only nothing
                yield _drop(name, "^doubtful-mesh-data: .*the file shows no triangles", _glb(build, root))
                continue
            spot = "".join(f"[{step}]" if isinstance(step, int) else f".{step}" for step in place).removeprefix(".")
            if wrong == [] and len(place) == 1:  # a right list without what others point at
                spot = {"meshes": "nodes[0].mesh", "bufferViews": "accessors[3].bufferView"}.get(spot, spot)
            yield _drop(name, rf"^unreadable-file: .*{re.escape(spot)}", _glb(build, root), UNREADABLE)
    for number, count in enumerate((10**6, 2**31 - 1, 2**32, 2**53, 10**18, 10**30)):
        root = copy.deepcopy(build.json)
        root["accessors"][_attributes(root)["POSITION"]]["count"] = count
        yield _drop(f"hugecount{number}", "^unreadable-file: ", _glb(build, root), UNREADABLE)
        root = copy.deepcopy(build.json)
        entry = root["accessors"][_indices(root)]
        entry["count"] = count
        del entry["bufferView"]
        if (
            count == 10**6
        ):  # an accessor without a view is all zeros (3.6.2.2): a third of a million flat triangles, to be read
            told = "^triangles-over-budget: model has 333,333 triangles"
            yield _drop(f"hugenothing{number}", told, _glb(build, root))
            continue
        told = rf"^unreadable-file: .*accessors\[{_indices(root)}\](\.count is out of range| is larger than the limits allow)"
        yield _drop(f"hugenothing{number}", told, _glb(build, root), UNREADABLE)
    for depth in (65, 1000, 100_000):
        text = b'{"asset":{"version":"2.0"},"extras":' + b"[" * depth + b"]" * depth + b"}"
        yield _drop(f"deep{depth}", "^unreadable-file: .*too deeply", text, UNREADABLE, "gltf")
        yield _drop(f"deepglb{depth}", "^unreadable-file: .*too deeply", pack_glb(text), UNREADABLE)
    for number, text in enumerate((b"NaN", b"1" * 9000, b"Infinity", b"-Infinity")):
        data = b'{"asset":{"version":"2.0"},"x":' + text + b"}"
        yield _drop(f"jsonnumber{number}", "^unreadable-file: .*number", data, UNREADABLE, "gltf")


def _nodes() -> Iterator[Case]:
    def with_nodes(*nodes: dict[str, Any], roots: tuple[int, ...] = (0,)) -> bytes:
        build = crate()
        build.json["nodes"] = list(nodes)
        build.json["scenes"] = [{"nodes": list(roots)}]
        return build.glb()

    cycle = r"^unreadable-file: .*(cycle|circle|itself|loop|parent|ancestor)"
    yield _drop("cyclicself", cycle, with_nodes({"mesh": 0, "children": [0]}), UNREADABLE)
    yield _drop("cyclictwo", cycle, with_nodes({"mesh": 0, "children": [1]}, {"children": [0]}), UNREADABLE)
    ring = [{"children": [(i + 1) % 500]} for i in range(500)]
    ring[0]["mesh"] = 0
    yield _drop("cyclicring", cycle, with_nodes(*ring), UNREADABLE)
    yield _drop(
        "twoparents", cycle, with_nodes({"children": [2]}, {"children": [2]}, {"mesh": 0}, roots=(0, 1)), UNREADABLE
    )
    fork = [{"children": [2 * i + 1, 2 * i + 2]} for i in range(30)] + [{"mesh": 0} for _ in range(31)]
    fork[5] = {"children": [3, 12]}
    yield _drop("cyclicfork", cycle, with_nodes(*fork), UNREADABLE)
    yield _drop("scale0", "^unlikely-size: the prop measures", with_nodes({"mesh": 0, "scale": [1e308] * 3}))
    flat = "^doubtful-mesh-data: .*flattens its mesh to nothing"
    yield _drop("scale1", flat, with_nodes({"mesh": 0, "scale": [0.0] * 3}))
    for number, bad in enumerate(([1] * 15, ["x"] * 16, [None] * 16, "matrix", [[1] * 16])):
        told = r"^unreadable-file: .*nodes\[0\]\.matrix does not hold 16 finite numbers"
        yield _drop(f"matrix{number}", told, with_nodes({"mesh": 0, "matrix": bad}), UNREADABLE)
    for number, bad in enumerate((-1, 99, "0", None, 2**40)):
        told = r"^unreadable-file: .*nodes\[0\]\.children\[0\]"
        yield _drop(f"child{number}", told, with_nodes({"mesh": 0, "children": [bad]}), UNREADABLE)


def _references() -> Iterator[Case]:
    for number, text in enumerate(OUTSIDE):
        yield _drop(f"uri{number:02d}", "^outside-reference: .*not opened", crate(base_color=text).glb())
        build = crate()
        yield _drop(f"buffer{number:02d}", "^unreadable-file: .*(outside|opened)", build.gltf(text), UNREADABLE, "gltf")
        if "%2e" in text:
            continue  # MTL and OBJ hold file names, not URIs: there it is only an odd name
        name = f"furniture_mtl{number:02d}"
        files = {f"{name}.obj": OBJ, "crate.mtl": b"newmtl wood\nmap_Kd " + text.encode() + b"\n"}
        yield folder(name, "^outside-reference: .*not opened", files)
        name = f"furniture_mtllib{number:02d}"
        files = {f"{name}.obj": OBJ.replace(b"crate.mtl", text.encode()), "crate_base_color.png": good_map()}
        yield folder(name, "^outside-reference: .*not opened", files)


def _text_meshes() -> Iterator[Case]:
    no_vertex = "line 10: a face uses a vertex that does not exist"
    for number, (find, put, verdict, told) in enumerate(
        (
            (b"v 1 0 0", b"v nan 0 0", "returned", "line holds a number that is infinite or no number.*line 4"),
            (b"v 1 0 0", b"v inf 0 0", "returned", "line holds a number that is infinite or no number.*line 4"),
            (b"v 1 0 0", b"v 1e999 0 0", "returned", "line holds a number that is infinite or no number.*line 4"),
            (b"v 1 0 0", b"v 1 0", "returned", "a `v` line has fewer than 3 numbers: line 4"),
            (b"v 1 0 0", b"v one 0 0", "returned", "a `v` line holds a word that is no number: line 4"),
            (b"vt 1 0", b"vt nan 0", "returned", "a `vt` line holds a number that is infinite or no number.*line 7"),
            (b"f 1/1", b"f 99/1", UNREADABLE, no_vertex),
            (b"f 1/1", b"f 1/99", "returned", "a face uses a texture vertex that does not exist.*line 10"),
            (b"f 1/1", b"f -99/1", UNREADABLE, no_vertex),
            (b"f 1/1", b"f 0/1", UNREADABLE, no_vertex),
            (b"f 1/1", b"f 99999999999999999999/1", UNREADABLE, no_vertex),
            (b"f 1/1", b"f x/1", UNREADABLE, "3 vertices and no face that can be read"),
            (b"f 1/1 2/2 3/3", b"f 1/1 2/2", UNREADABLE, "3 vertices and no face that can be read"),
            (b"v 0 0 0", b"v " + b"1" * (17 << 20) + b" 0 0", UNREADABLE, "a line is longer than the limits allow"),
        )
    ):
        name = f"furniture_obj{number:02d}"
        data = OBJ.replace(find, put, 1)
        told = f"^{'unreadable-file' if verdict == UNREADABLE else 'doubtful-mesh-data'}: .*{told}"
        files = {f"{name}.obj": data, "crate.mtl": MTL, "crate_base_color.png": good_map()}
        yield folder(name, told, files, verdict)
    for number, (data, told) in enumerate(
        (
            (b"", "the file is empty"),
            (b"\0" * 1000, "binary, not text"),
            (b"# nothing\n", "the file holds no face"),
            (b"\x7fELF" + bytes(500), "binary, not text"),
            (b"PK\x03\x04" + bytes(500), "binary, not text"),
        )
    ):
        name = f"furniture_noobj{number}"
        yield folder(name, f"^unreadable-file: .*{told}", {f"{name}.obj": data}, UNREADABLE)


def _binary_meshes() -> Iterator[Case]:
    head = b"ply\nformat binary_little_endian 1.0\nelement vertex %d\nproperty float x\nproperty float y\nproperty float z\n"
    head += b"element face %d\nproperty list uchar int vertex_indices\nend_header\n"
    points = struct.pack("<9f", 0, 0, 0, 1, 0, 0, 0, 1, 0)
    face = struct.pack("<B3i", 3, 0, 1, 2)
    whole = head % (3, 1) + points + face
    plys = [(whole[:3], "this is no PLY file")]
    plys += [(whole[:cut], "the PLY header has no end") for cut in (20, 60)]
    plys += [(whole[:-cut], "the PLY body is cut off in 'vertex'") for cut in (40, 14)]  # a face takes 13 bytes
    plys += [(whole[:-1], "the PLY body is cut off in 'face'")]
    plys += [(head % (count, 1) + points + face, "more vertex rows than the limits allow") for count in (10**9, 10**17)]
    plys += [(head % (5, 1) + points + face, "the PLY body is cut off in 'vertex'")]  # 60 bytes wanted, 49 there
    plys += [(head % (3, 2) + points + face, "the PLY body is cut off in 'face'")]
    plys += [(head % (3, count) + points + face, "more face rows than the limits allow") for count in (10**9, 10**17)]
    for bad in (3, -1, 2**31 - 1):
        corners = struct.pack("<B3i", 3, 0, 1, bad)
        plys += [(head % (3, 1) + points + corners, rf"leads to a vertex that is not there \({bad:,}\)")]
    plys += [(head % (3, 1) + points + b"\xff" + face[1:], "the PLY body is cut off in 'face'")]
    for number, (data, told) in enumerate(plys):
        name = f"furniture_ply{number:02d}"
        yield folder(name, f"^unreadable-file: .*{told}", {f"{name}.ply": data}, UNREADABLE)
    triangle = struct.pack("<12fH", *([0.0] * 3), 0, 0, 0, 1, 0, 0, 0, 1, 0, 0)
    stl = bytes(80) + struct.pack("<I", 1) + triangle
    stls = [stl[:cut] for cut in (10, 80, 83, 84, 100, 133)]
    stls += [bytes(80) + struct.pack("<I", count) + triangle for count in (2, 10**6, 2**32 - 1)]
    stls += [b"solid x\nfacet normal 0 0 1\nouter loop\nvertex 0 0 0\nvertex 1 0\n"]
    for number, data in enumerate(stls):
        name = f"furniture_stl{number:02d}"
        yield folder(name, "^unreadable-file: .*cut off", {f"{name}.stl": data}, UNREADABLE)
    nan = bytes(80) + struct.pack("<I", 1) + struct.pack("<12fH", *([float("nan")] * 12), 0)
    told = "^doubtful-mesh-data: .*3 corners have a position that is not a number"
    yield folder("furniture_stlnan", told, {"furniture_stlnan.stl": nan})
