"""A plain reading of the small GLB files that the hostile drops damage: what a person with the specification would read.

Made without tidegate, so that it can say what a damaged file holds. glTF 2.0, sections 3.6, 3.7 and 4.4.
"""

from __future__ import annotations

import json
import struct
from typing import Any, NamedTuple

WIDTHS = {"SCALAR": 1, "VEC2": 2, "VEC3": 3}
FORMS = {5123: ("H", 2), 5126: ("f", 4)}  # the two component types that the writer of these files uses


class Read(NamedTuple):
    """columns: name of an attribute -> its values as stored. image: uri of the base color of the only material."""

    columns: dict[str, tuple[float, ...]]
    indices: tuple[float, ...]
    material: dict[str, Any]
    image: str
    place: dict[str, Any]


def chunks(data: bytes) -> tuple[bytes, bytes]:
    """JSON and binary chunk."""
    length = struct.unpack_from("<I", data, 12)[0]
    return data[20 : 20 + length], data[28 + length :]


def with_json(data: bytes, text: bytes) -> bytes:
    """The file with another JSON chunk of the same length."""
    assert len(text) == len(chunks(data)[0])
    return data[:20] + text + data[20 + len(text) :]


def read(text: bytes, blob: bytes) -> Read:
    """Raises ValueError for JSON that is none, LookupError or TypeError for what is not as the specification has it."""
    root = json.loads(text.decode("utf-8"))
    if not root["asset"]["version"].startswith("2."):  # a later minor version is read too (3.2)
        raise LookupError("version")
    (node,) = (root["nodes"][number] for number in root["scenes"][root.get("scene", 0)]["nodes"])
    (primitive,) = root["meshes"][node["mesh"]]["primitives"]
    material = root["materials"][primitive["material"]] if "material" in primitive else {}
    slot = material.get("pbrMetallicRoughness", {}).get("baseColorTexture")
    image = root["images"][root["textures"][slot["index"]]["source"]]["uri"] if slot else ""
    columns = {name: _column(root, blob, number) for name, number in primitive["attributes"].items()}
    place = {key: value for key, value in node.items() if key not in ("mesh", "name")}
    return Read(columns, _column(root, blob, primitive["indices"]), material, image, place)


def _column(root: dict[str, Any], blob: bytes, number: int) -> tuple[float, ...]:
    accessor = root["accessors"][number]
    view = root["bufferViews"][accessor["bufferView"]]
    if view["buffer"] != 0 or root["buffers"][0]["byteLength"] > len(blob):
        raise LookupError("buffer")
    form, size = FORMS[accessor["componentType"]]
    values = accessor["count"] * WIDTHS[accessor["type"]]
    if (
        values * size > view["byteLength"]
        or view.get("byteOffset", 0) + view["byteLength"] > root["buffers"][0]["byteLength"]
    ):
        raise LookupError("past the end")
    return tuple(struct.unpack_from(f"<{values}{form}", blob, view.get("byteOffset", 0)))
