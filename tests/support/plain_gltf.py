"""A deliberately plain glTF reader: JSON and `struct`, one accessor element after the other. Slow, and easy to believe.

It knows what the tests' files hold and no more; nothing of the package is used. The real reader must agree with it.
"""

from __future__ import annotations

import base64
import json
import math
import struct
from pathlib import Path
from typing import Any
from urllib.parse import unquote

from tests.support.plain_islands import PlainPart, Point, Uv

Matrix = list[list[float]]
_CODES = {5120: "b", 5121: "B", 5122: "h", 5123: "H", 5125: "I", 5126: "f"}
_WIDTH = {"SCALAR": 1, "VEC2": 2, "VEC3": 3, "VEC4": 4}
_UNIT = {
    5120: 127.0,
    5121: 255.0,
    5122: 32767.0,
    5123: 65535.0,
}  # glTF 2.0 3.11: what a normalised integer is divided by
_IDENTITY: Matrix = [[float(i == j) for j in range(4)] for i in range(4)]


class PlainGltf:
    """A file, read: `json`, and `bytes_of(buffer)`."""

    def __init__(self, path: Path) -> None:
        self.folder = path.parent
        data = path.read_bytes()
        self.binary = b""
        if data[:4] == b"glTF":
            (length,) = struct.unpack_from("<I", data, 12)
            self.json: dict[str, Any] = json.loads(data[20 : 20 + length])
            if 20 + length < len(data):
                (size,) = struct.unpack_from("<I", data, 20 + length)
                self.binary = data[28 + length : 28 + length + size]
        else:
            self.json = json.loads(data)

    def bytes_of(self, buffer: int) -> bytes:
        uri = self.json["buffers"][buffer].get("uri")
        return self.binary if uri is None else self.bytes_at(uri)

    def bytes_at(self, uri: str) -> bytes:
        if uri.startswith("data:"):
            return base64.b64decode(uri.split(",", 1)[1])
        return (self.folder / unquote(uri)).read_bytes()

    def view(self, number: int) -> tuple[bytes, int]:
        entry = self.json["bufferViews"][number]
        start = entry.get("byteOffset", 0)
        return self.bytes_of(entry["buffer"])[start : start + entry["byteLength"]], entry.get("byteStride", 0)

    def accessor(self, number: int) -> list[tuple[float, ...]]:
        entry = self.json["accessors"][number]
        width, kind = _WIDTH[entry["type"]], entry["componentType"]
        if "bufferView" in entry:
            data, stride = self.view(entry["bufferView"])
            rows = _elements(data, entry.get("byteOffset", 0), stride, entry["count"], width, kind)
        else:
            rows = [(0.0,) * width for _ in range(entry["count"])]
        if "sparse" in entry:
            sparse = entry["sparse"]
            places, _ = self.view(sparse["indices"]["bufferView"])
            values, _ = self.view(sparse["values"]["bufferView"])
            at = _elements(
                places,
                sparse["indices"].get("byteOffset", 0),
                0,
                sparse["count"],
                1,
                sparse["indices"]["componentType"],
            )
            new = _elements(values, sparse["values"].get("byteOffset", 0), 0, sparse["count"], width, kind)
            for (where,), value in zip(at, new, strict=True):
                rows[int(where)] = value
        if entry.get("normalized"):
            rows = [tuple(max(value / _UNIT[kind], -1.0) for value in row) for row in rows]
        return rows


def _elements(data: bytes, start: int, stride: int, count: int, width: int, kind: int) -> list[tuple[float, ...]]:
    code = f"<{width}{_CODES[kind]}"
    step = stride or struct.calcsize(code)
    return [tuple(struct.unpack_from(code, data, start + i * step)) for i in range(count)]


def read_plainly(path: Path) -> list[PlainPart]:
    """Parts of every mesh the scene places: one a (node, mesh, material, set of attributes)."""
    gltf = PlainGltf(path)
    parts: dict[tuple[int, str], PlainPart] = {}
    scenes = gltf.json.get("scenes") or [{"nodes": list(range(len(gltf.json.get("nodes", []))))}]
    for root in scenes[gltf.json.get("scene", 0)].get("nodes", []):
        _walk(gltf, root, _IDENTITY, parts)
    return list(parts.values())


def _walk(gltf: PlainGltf, number: int, above: Matrix, parts: dict[tuple[int, str], PlainPart]) -> None:
    node = gltf.json["nodes"][number]
    here = _times(above, _local(node))
    if "mesh" in node:
        mesh = gltf.json["meshes"][node["mesh"]]
        for primitive in mesh["primitives"]:
            if primitive.get("mode", 4) < 4:
                continue  # points and lines have no surface
            _add(gltf, number, node, mesh, primitive, here, parts)
    for child in node.get("children", []):
        _walk(gltf, child, here, parts)


def _add(
    gltf: PlainGltf,
    number: int,
    node: dict[str, Any],
    mesh: dict[str, Any],
    primitive: dict[str, Any],
    matrix: Matrix,
    parts: dict[tuple[int, str], PlainPart],
) -> None:
    material = primitive.get("material")
    name = "" if material is None else gltf.json["materials"][material].get("name", f"material {material}")
    key = (number, f"{material} {sorted(primitive['attributes'])}")
    part = parts.setdefault(key, PlainPart(mesh.get("name", ""), node.get("name", ""), name))
    before = len(part.corners)
    attributes = primitive["attributes"]
    points = [_moved(matrix, point) for point in gltf.accessor(attributes["POSITION"])]
    order = (
        [int(i) for (i,) in gltf.accessor(primitive["indices"])] if "indices" in primitive else list(range(len(points)))
    )
    triangles = _triangles(order, primitive.get("mode", 4))
    if _determinant(matrix) < 0:
        triangles = [
            (a, c, b) for a, b, c in triangles
        ]  # glTF 2.0 3.7.4: clockwise fronts under a negative determinant
    part.corners += [(points[a], points[b], points[c]) for a, b, c in triangles]
    layers = {int(key[9:]) for key in attributes if key.startswith("TEXCOORD_")}
    for layer in sorted(layers | set(part.uvs)):
        kept = part.uvs.setdefault(layer, [None] * before)
        laid = part.placed.setdefault(layer, [None] * before)
        if layer not in layers:
            kept += [None] * len(triangles)
            laid += [None] * len(triangles)
            continue
        down = gltf.accessor(attributes[f"TEXCOORD_{layer}"])
        size, transform = _driving(gltf, material, layer)
        if size:
            part.size[layer] = size
        up = [_up(uv) for uv in down]
        moved = [_up(transform(uv)) for uv in down]
        kept += [(up[a], up[b], up[c]) for a, b, c in triangles]
        laid += [(moved[a], moved[b], moved[c]) for a, b, c in triangles]


def _up(uv: tuple[float, ...]) -> Uv:
    """glTF 2.0 3.8.3: (0, 0) is the upper left corner; here V points up."""
    return (uv[0], 1.0 - uv[1])


def _triangles(order: list[int], mode: int) -> list[tuple[int, int, int]]:
    """glTF 2.0 3.7.2.1: triangles, strips (every second one turned) and fans."""
    if mode == 5:
        return [(order[i], order[i + 1 + i % 2], order[i + 2 - i % 2]) for i in range(len(order) - 2)]
    if mode == 6:
        return [(order[i + 1], order[i + 2], order[0]) for i in range(len(order) - 2)]
    return [(order[i], order[i + 1], order[i + 2]) for i in range(0, len(order) - 2, 3)]


def _driving(gltf: PlainGltf, material: int | None, layer: int) -> tuple[tuple[int, int] | None, Any]:
    """Texels of the base color map on this layer, and what its material does to the UVs first."""

    def unmoved(uv: tuple[float, ...]) -> tuple[float, ...]:
        return uv

    if material is None:
        return None, unmoved
    stated = gltf.json["materials"][material]
    uses = [
        stated.get("pbrMetallicRoughness", {}).get("baseColorTexture"),
        stated.get("normalTexture"),
        stated.get("pbrMetallicRoughness", {}).get("metallicRoughnessTexture"),
        stated.get("occlusionTexture"),
        stated.get("emissiveTexture"),
    ]
    for use in uses:
        if use is None:
            continue
        more = use.get("extensions", {}).get("KHR_texture_transform", {})
        if more.get("texCoord", use.get("texCoord", 0)) != layer:
            continue
        size = _picture_size(gltf, use["index"])
        if size is None:
            continue
        if not more:
            return size, unmoved
        return size, _mover(more)
    return None, unmoved


def _mover(more: dict[str, Any]) -> Any:
    """KHR_texture_transform by its worked example: the lower left quadrant for offset (0, 1), a quarter turn, half scale."""
    turn, (x, y), (sx, sy) = more.get("rotation", 0.0), more.get("offset", (0.0, 0.0)), more.get("scale", (1.0, 1.0))

    def moved(uv: tuple[float, ...]) -> tuple[float, ...]:
        u, v = uv[0] * sx, uv[1] * sy
        return (math.cos(turn) * u + math.sin(turn) * v + x, -math.sin(turn) * u + math.cos(turn) * v + y)

    return moved


def _picture_size(gltf: PlainGltf, texture: int) -> tuple[int, int] | None:
    """Width and height from the first bytes of a PNG or JPEG."""
    entry = gltf.json["textures"][texture]
    if "source" not in entry:
        return None
    image = gltf.json["images"][entry["source"]]
    try:
        data = gltf.bytes_at(image["uri"]) if "uri" in image else gltf.view(image["bufferView"])[0]
    except OSError:
        return None
    if data[:8] == b"\x89PNG\r\n\x1a\n":
        width, height = struct.unpack_from(">II", data, 16)
        return width, height
    at = 2
    while data[:2] == b"\xff\xd8" and at + 9 < len(data):
        marker, length = data[at + 1], struct.unpack_from(">H", data, at + 2)[0]
        if 0xC0 <= marker <= 0xCF and marker not in (0xC4, 0xC8, 0xCC):
            height, width = struct.unpack_from(">HH", data, at + 5)
            return width, height
        at += 2 + length
    return None


def _local(node: dict[str, Any]) -> Matrix:
    if "matrix" in node:
        return [[float(node["matrix"][4 * column + row]) for column in range(4)] for row in range(4)]
    x, y, z, w = node.get("rotation", (0.0, 0.0, 0.0, 1.0))
    turn: Matrix = [
        [1 - 2 * (y * y + z * z), 2 * (x * y - z * w), 2 * (x * z + y * w)],
        [2 * (x * y + z * w), 1 - 2 * (x * x + z * z), 2 * (y * z - x * w)],
        [2 * (x * z - y * w), 2 * (y * z + x * w), 1 - 2 * (x * x + y * y)],
    ]
    scale, move = node.get("scale", (1.0, 1.0, 1.0)), node.get("translation", (0.0, 0.0, 0.0))
    return [[turn[i][j] * scale[j] for j in range(3)] + [float(move[i])] for i in range(3)] + [[0.0, 0.0, 0.0, 1.0]]


def _times(a: Matrix, b: Matrix) -> Matrix:
    return [[sum(a[i][k] * b[k][j] for k in range(4)) for j in range(4)] for i in range(4)]


def _moved(matrix: Matrix, point: tuple[float, ...]) -> Point:
    x, y, z = (
        matrix[i][0] * point[0] + matrix[i][1] * point[1] + matrix[i][2] * point[2] + matrix[i][3] for i in range(3)
    )
    return (x, y, z)


def _determinant(m: Matrix) -> float:
    return (
        m[0][0] * (m[1][1] * m[2][2] - m[1][2] * m[2][1])
        - m[0][1] * (m[1][0] * m[2][2] - m[1][2] * m[2][0])
        + m[0][2] * (m[1][0] * m[2][1] - m[1][1] * m[2][0])
    )
