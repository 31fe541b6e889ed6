"""Writes small glTF files for tests: arrays in, GLB or glTF bytes out.

    build = GltfBuilder()
    build.mesh("bollard", positions=P, triangles=T, uvs=[UV], material=build.material("iron", base_color="iron.png"))
    write_glb(folder / "bollard.glb", build)

Everything stays open to edits in `build.json`, so that a test can damage exactly one thing. UVs are given V-up and
written V-down, as glTF wants them.
"""

from __future__ import annotations

import json
import struct
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import numpy as np

_COMPONENT = {"int8": 5120, "uint8": 5121, "int16": 5122, "uint16": 5123, "uint32": 5125, "float32": 5126}
_TYPE = {1: "SCALAR", 2: "VEC2", 3: "VEC3", 4: "VEC4"}


class GltfBuilder:
    """A glTF in the making: `json` and the one buffer `blob`."""

    def __init__(self) -> None:
        self.json: dict[str, Any] = {"asset": {"version": "2.0"}, "scene": 0, "scenes": [{"nodes": []}]}
        self.blob = bytearray()

    def add(self, key: str, entry: dict[str, Any]) -> int:
        """Appends to a top-level list; the number of the entry."""
        entries: list[Any] = self.json.setdefault(key, [])
        entries.append(entry)
        return len(entries) - 1

    def view(self, data: bytes, **more: Any) -> int:
        """A buffer view of these bytes, aligned to 4."""
        self.blob += b"\0" * (-len(self.blob) % 4)
        entry = {"buffer": 0, "byteOffset": len(self.blob), "byteLength": len(data), **more}
        self.blob += data
        return self.add("bufferViews", entry)

    def accessor(self, values: Any, **more: Any) -> int:
        """An accessor of an array; its dtype decides the component type, its columns the type."""
        array = np.asarray(values)
        if array.dtype in (np.float64, np.int64):
            array = array.astype(np.float32 if array.dtype == np.float64 else np.uint32)
        width = 1 if array.ndim == 1 else array.shape[1]
        entry: dict[str, Any] = {
            "bufferView": self.view(array.tobytes()),
            "componentType": _COMPONENT[array.dtype.name],
            "count": len(array),
            "type": _TYPE[width],
        }
        if width == 3 and array.dtype == np.float32 and len(array):
            entry["min"], entry["max"] = array.min(axis=0).tolist(), array.max(axis=0).tolist()
        return self.add("accessors", {**entry, **more})

    def primitive(
        self,
        positions: Any,
        triangles: Any = None,
        *,
        uvs: Sequence[Any] = (),
        normals: Any = None,
        tangents: Any = None,
        colors: Any = None,
        material: int | None = None,
        mode: int | None = None,
    ) -> dict[str, Any]:
        """A primitive of new accessors. positions: (n, 3). triangles: (m, 3) or flat numbers. uvs: (n, 2) V-up each."""
        attributes = {"POSITION": self.accessor(np.asarray(positions, np.float32))}
        for name, values in (("NORMAL", normals), ("TANGENT", tangents), ("COLOR_0", colors)):
            if values is not None:
                attributes[name] = self.accessor(np.asarray(values, np.float32))
        for layer, uv in enumerate(uvs):
            down = np.array(uv, np.float64)
            down[:, 1] = 1.0 - down[:, 1]
            attributes[f"TEXCOORD_{layer}"] = self.accessor(down)
        primitive: dict[str, Any] = {"attributes": attributes}
        if triangles is not None:
            flat = np.asarray(triangles).reshape(-1)
            primitive["indices"] = self.accessor(flat if flat.dtype.kind == "u" else flat.astype(np.uint32))
        if material is not None:
            primitive["material"] = material
        if mode is not None:
            primitive["mode"] = mode
        return primitive

    def mesh(self, name: str, positions: Any, triangles: Any = None, *, node: bool = True, **more: Any) -> int:
        """A mesh of one primitive, placed by a node of the same name unless `node` is False; the mesh's number."""
        mesh = self.add("meshes", {"name": name, "primitives": [self.primitive(positions, triangles, **more)]})
        if node:
            self.node(name, mesh=mesh)
        return mesh

    def node(self, name: str = "", *, root: bool = True, **entry: Any) -> int:
        """A node, listed by the scene unless `root` is False. entry: `mesh`, `matrix` (column after column), `scale` ..."""
        number = self.add("nodes", {**({"name": name} if name else {}), **entry})
        if root:
            self.json["scenes"][0]["nodes"].append(number)
        return number

    def texture(self, image: str | bytes, **more: Any) -> int:
        """A texture of an image named by URI, or of embedded PNG bytes; the texture's number."""
        if isinstance(image, bytes):
            source = self.add("images", {"bufferView": self.view(image), "mimeType": "image/png"})
        else:
            source = self.add("images", {"uri": image})
        return self.add("textures", {"source": source, **more})

    def material(self, name: str, *, base_color: str | bytes | None = None, normal: str | bytes | None = None) -> int:
        """A material with up to two maps; the material's number. Further slots: edit `json["materials"]`."""
        entry: dict[str, Any] = {"name": name}
        if base_color is not None:
            entry["pbrMetallicRoughness"] = {"baseColorTexture": {"index": self.texture(base_color)}}
        if normal is not None:
            entry["normalTexture"] = {"index": self.texture(normal)}
        return self.add("materials", entry)

    def glb(self) -> bytes:
        """The whole as GLB."""
        root = dict(self.json)
        if self.blob:
            root.setdefault("buffers", [{"byteLength": len(self.blob)}])
        return pack_glb(json.dumps(root, separators=(",", ":")).encode(), bytes(self.blob) if self.blob else None)

    def gltf(self, buffer_uri: str) -> bytes:
        """The JSON of the whole, its buffer named by `buffer_uri`; the buffer itself is `blob`."""
        root = {**self.json, "buffers": [{"byteLength": len(self.blob), "uri": buffer_uri}]}
        return json.dumps(root, indent=1).encode()


def pack_glb(text: bytes, binary: bytes | None = None, *more: tuple[int, bytes]) -> bytes:
    """A GLB of JSON bytes, a BIN chunk, and further (type, bytes) chunks."""
    chunks = [(0x4E4F534A, text + b" " * (-len(text) % 4))]
    if binary is not None:
        chunks.append((0x004E4942, binary + b"\0" * (-len(binary) % 4)))
    body = b"".join(struct.pack("<II", len(data), kind) + data for kind, data in [*chunks, *more])
    return b"glTF" + struct.pack("<II", 2, 12 + len(body)) + body


def write_glb(path: Path, build: GltfBuilder) -> Path:
    """Writes `build` as one GLB file."""
    path.write_bytes(build.glb())
    return path


def write_gltf(path: Path, build: GltfBuilder, *, buffer: str = "") -> Path:
    """Writes `build` as JSON with its buffer beside it, named `buffer` or like the mesh."""
    name = buffer or f"{path.stem}.bin"
    path.write_bytes(build.gltf(name))
    path.with_name(name).write_bytes(bytes(build.blob))
    return path
