"""Geometry packed by KHR_draco_mesh_compression, through the optional package DracoPy."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from tidegate.errors import NoReader, UnreadableFile

from .gltf_buffers import GltfBuffers
from .gltf_document import GltfDocument
from .gltf_values import Json, index, integer, mapping

EXTENSION = "KHR_draco_mesh_compression"


@dataclass(frozen=True, slots=True, eq=False)
class DracoGeometry:
    """indices: three a triangle. attributes: glTF attribute name -> (n, width) values as decoded."""

    indices: NDArray[np.uint32]
    attributes: dict[str, NDArray[Any]]


def has_draco_reader() -> bool:
    """Whether DracoPy is installed."""
    from importlib.util import find_spec

    return find_spec("DracoPy") is not None


def no_draco_reader() -> NoReader:
    """The error for a mesh that only Draco holds, where DracoPy is not installed."""
    return NoReader(
        "the geometry is packed with Draco, and its reader is not installed",
        expected="the package DracoPy",
        help="install it (`pip install DracoPy`), or export without mesh compression",
    )


def decode_draco(document: GltfDocument, buffers: GltfBuffers, body: Json, where: str) -> DracoGeometry:
    """Unpacks one primitive. Raises UnreadableFile, and NoReader without DracoPy."""
    if not has_draco_reader():
        raise no_draco_reader()
    import DracoPy

    where = f"{where}.extensions.{EXTENSION}"
    data, _ = buffers.view(index(body, "bufferView", where, len(document.views)))
    try:
        mesh = DracoPy.decode(bytes(data))
    except Exception as fault:  # the C++ decoder raises whatever it likes for damaged bytes
        raise UnreadableFile(
            f"the Draco data of {where} is damaged", came=str(fault)[:200], help="export the mesh again"
        ) from fault
    faces = getattr(mesh, "faces", None)
    if faces is None:
        raise UnreadableFile(f"the Draco data of {where} holds points and no triangles", help="export the mesh again")
    decoded = {int(attribute["unique_id"]): attribute["data"] for attribute in mesh.attributes}
    named = mapping(body, "attributes", where)
    attributes = {}
    for name in named:
        number = integer(named, name, f"{where}.attributes")
        if number not in decoded:
            raise UnreadableFile(f"the Draco data of {where} lacks the attribute {name[:60]!r}", help="export again")
        values = np.asarray(decoded[number])
        attributes[name] = values.reshape(len(values), -1)
    return DracoGeometry(np.ascontiguousarray(faces, dtype=np.uint32).reshape(-1), attributes)
