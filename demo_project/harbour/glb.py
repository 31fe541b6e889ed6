"""Writes GLB: glTF 2.0, binary, textures by file name."""

from __future__ import annotations

import json
import struct
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

import numpy as np

from .meshes import Mesh


def write_glb(
    path: Path, nodes: Sequence[tuple[str, Sequence[Mesh]]], textures: Mapping[str, Mapping[str, str]]
) -> None:
    """nodes: (name, meshes, a primitive each). textures: material -> slot (base_color, normal) -> file name."""
    blob = bytearray()
    doc: dict[str, Any] = {
        "asset": {"version": "2.0", "generator": "harbour props from numbers"},
        "scene": 0,
        "scenes": [{"nodes": list(range(len(nodes)))}],
        "nodes": [{"name": name, "mesh": number} for number, (name, _) in enumerate(nodes)],
        "meshes": [],
        "materials": [],
        "images": [],
        "textures": [],
        "accessors": [],
        "bufferViews": [],
    }
    numbers: dict[str, int] = {}
    for name, meshes in nodes:
        primitives = []
        for mesh in meshes:
            attributes = {
                "POSITION": _accessor(doc, blob, mesh.positions, "VEC3", bounds=True),
                "NORMAL": _accessor(doc, blob, mesh.normals, "VEC3"),
            }
            if mesh.uv is not None:
                down = mesh.uv.copy()
                down[:, 1] = 1 - down[:, 1]
                attributes["TEXCOORD_0"] = _accessor(doc, blob, down, "VEC2")
            primitive: dict[str, Any] = {
                "attributes": attributes,
                "indices": _accessor(doc, blob, mesh.triangles.reshape(-1), "SCALAR"),
            }
            if mesh.material:
                if mesh.material not in numbers:
                    numbers[mesh.material] = len(doc["materials"])
                    doc["materials"].append(_material(doc, mesh.material, textures.get(mesh.material, {})))
                primitive["material"] = numbers[mesh.material]
            primitives.append(primitive)
        doc["meshes"].append({"name": name, "primitives": primitives})
    doc["buffers"] = [{"byteLength": len(blob)}]
    doc = {key: value for key, value in doc.items() if value != []}
    text = json.dumps(doc, separators=(",", ":")).encode()
    text += b" " * (-len(text) % 4)
    blob += b"\0" * (-len(blob) % 4)
    total = 12 + 8 + len(text) + 8 + len(blob)
    path.write_bytes(
        struct.pack("<4sII", b"glTF", 2, total)
        + struct.pack("<I4s", len(text), b"JSON")
        + text
        + struct.pack("<I4s", len(blob), b"BIN\0")
        + bytes(blob)
    )


def _accessor(doc: dict[str, Any], blob: bytearray, values: np.ndarray, kind: str, bounds: bool = False) -> int:
    data = np.ascontiguousarray(values)
    blob += b"\0" * (-len(blob) % 4)
    doc["bufferViews"].append({"buffer": 0, "byteOffset": len(blob), "byteLength": data.nbytes})
    blob += data.tobytes()
    accessor: dict[str, Any] = {
        "bufferView": len(doc["bufferViews"]) - 1,
        "componentType": 5125 if data.dtype == np.uint32 else 5126,
        "count": len(data),
        "type": kind,
    }
    if bounds:
        accessor["min"] = [float(v) for v in data.min(axis=0)]
        accessor["max"] = [float(v) for v in data.max(axis=0)]
    doc["accessors"].append(accessor)
    return len(doc["accessors"]) - 1


def _material(doc: dict[str, Any], name: str, textures: Mapping[str, str]) -> dict[str, Any]:
    material: dict[str, Any] = {"name": name, "pbrMetallicRoughness": {"metallicFactor": 0.0}}
    for slot, file in textures.items():
        doc["images"].append({"uri": file})
        doc["textures"].append({"source": len(doc["images"]) - 1})
        use = {"index": len(doc["textures"]) - 1}
        if slot == "base_color":
            material["pbrMetallicRoughness"]["baseColorTexture"] = use
        elif slot == "normal":
            material["normalTexture"] = use
    return material
