"""A primitive of a glTF mesh -> triangles, positions and UV layers in the mesh's own space (section 3.7.2)."""

from __future__ import annotations

import re
from collections import Counter
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from tidegate.errors import LimitExceeded, UnreadableFile
from tidegate.model.mesh import UvLayer, frozen_array

from . import gltf_draco as draco
from .gltf_accessors import GltfAccessors, as_columns, v_up
from .gltf_buffers import GltfBuffers
from .gltf_document import GltfDocument
from .gltf_joined import joined
from .gltf_values import Json, array, extension, index, integer, mapping, wrong
from .triangle_lists import fan_triangles, list_triangles, strip_triangles

_POINTS_AND_LINES = {0: "points", 1: "lines", 2: "a line loop", 3: "a line strip"}
_LIST, _STRIP, _FAN = 4, 5, 6
_UV = re.compile(r"TEXCOORD_(0|[1-9][0-9]{0,3})")
_KNOWN = re.compile(r"POSITION|NORMAL|TANGENT|COLOR_0|(TEXCOORD|JOINTS|WEIGHTS)_(0|[1-9][0-9]{0,3})|_.*", re.DOTALL)
_QUANTIZED = "KHR_mesh_quantization"


@dataclass(frozen=True, slots=True, eq=False)
class Primitive:
    """Arrays as in `MeshPart`, before any node places them. material: index, -1 none."""

    material: int
    positions: NDArray[np.float64]
    triangles: NDArray[np.int32]
    uv_layers: tuple[UvLayer, ...]
    normals: NDArray[np.float64] | None
    tangents: NDArray[np.float64] | None
    colors: NDArray[np.float64] | None


class GltfPrimitives:
    """Reads the primitives of meshes, each once however many nodes place it."""

    def __init__(self, document: GltfDocument, buffers: GltfBuffers) -> None:
        self._document = document
        self._buffers = buffers
        self._accessors = GltfAccessors(document, buffers)
        self._meshes: dict[int, tuple[Primitive, ...]] = {}
        self._uses = _position_uses(document.meshes)

    def of_mesh(self, number: int) -> tuple[Primitive, ...]:
        """All primitives of a mesh that hold triangles, those alike as one. Raises UnreadableFile and LimitExceeded."""
        if number not in self._meshes:
            mesh = self._document.meshes[number]
            where = f"meshes[{number}]"
            primitives = array(mesh, "primitives", where)
            if not primitives:
                self._document.note("empty-mesh", "warning", "a mesh without any primitive", place=where)
            read = (self._read(primitive, f"{where}.primitives[{i}]") for i, primitive in enumerate(primitives))
            self._meshes[number] = joined(primitive for primitive in read if primitive is not None)
        return self._meshes[number]

    def _read(self, primitive: Any, where: str) -> Primitive | None:
        if not isinstance(primitive, dict):
            raise wrong(where, "is no JSON object")
        note = self._document.note
        mode = integer(primitive, "mode", where, default=_LIST)
        if mode in _POINTS_AND_LINES:
            note("points-or-lines", "warning", f"{_POINTS_AND_LINES[mode]} instead of triangles; left out", place=where)
            return None
        if mode > _FAN:
            raise wrong(f"{where}.mode", "is not known", expected="0 to 6", came=str(mode))
        attributes = self._attributes(primitive, where)
        if "POSITION" not in attributes:
            note("no-positions", "error", "a primitive without positions; left out", place=where)
            return None
        if array(primitive, "targets", where):
            note("morph-targets", "note", "morph targets are not read; the mesh is measured at rest", place=where)
        packed = self._packed(primitive, attributes, where)
        count = self._accessors.count(attributes["POSITION"])
        if packed is not None and "POSITION" in packed.attributes and len(packed.attributes["POSITION"]) != count:
            unpacked = len(packed.attributes["POSITION"])
            note(
                "draco-count",
                "warning",
                f"{unpacked:,} vertices were unpacked where {count:,} are stated; all of them were read",
                place=where,
            )
            count = unpacked
        indices = self._indices(primitive, packed, count, where)
        kept = None
        if packed is None and self._uses[attributes["POSITION"]] > 1:
            # Primitives that share one vertex list would each carry all of it: keep the vertices this one uses.
            kept, indices = np.unique(indices, return_inverse=True)
        self.take(vertices=count if kept is None else len(kept))
        columns = _Columns(self._document, self._accessors, attributes, packed, count, kept, where)
        positions = columns.read("POSITION", (3,))
        normals, tangents = columns.optional("NORMAL", (3,)), columns.optional("TANGENT", (4,))
        for name, values in (("position", positions), ("normal", normals), ("tangent", tangents)):
            if values is not None:
                self._check_finite(values, name, where)
        triangles = self._triangles(indices, _LIST if packed else mode, where)
        if not len(triangles):
            note("no-triangles", "warning", "a primitive without a single triangle; left out", place=where)
            return None
        return Primitive(
            material=index(primitive, "material", where, len(self._document.materials), default=-1),
            positions=positions,
            triangles=frozen_array(triangles),
            uv_layers=columns.uv_layers(triangles),
            normals=normals,
            tangents=tangents,
            colors=columns.optional("COLOR_0", (3, 4)),
        )

    def _attributes(self, primitive: Json, where: str) -> dict[str, int]:
        stated = mapping(primitive, "attributes", where)
        place = f"{where}.attributes"
        attributes = {name: index(stated, name, place, len(self._document.accessors)) for name in stated}
        for name in attributes:
            if not _KNOWN.fullmatch(name):
                self._document.note(
                    "unknown-attribute", "note", f"the attribute {name[:60]!r} is not read", place=where
                )
        return attributes

    def _packed(self, primitive: Json, attributes: dict[str, int], where: str) -> draco.DracoGeometry | None:
        body = extension(primitive, draco.EXTENSION, where)
        if body is None:
            return None
        needed = [*attributes.values()]
        if "indices" in primitive:
            needed.append(index(primitive, "indices", where, len(self._document.accessors)))
        if not draco.has_draco_reader() and all(self._accessors.has_bytes(number) for number in needed):
            self._document.note(
                "draco-fallback", "note", "the unpacked copy of Draco geometry was read, since DracoPy is not installed"
            )
            return None
        for number in needed:  # limits are proven from the stated counts before anything is unpacked
            self._accessors.count(number)
        return draco.decode_draco(self._document, self._buffers, body, where)

    def _indices(
        self, primitive: Json, packed: draco.DracoGeometry | None, count: int, where: str
    ) -> NDArray[np.unsignedinteger[Any]]:
        if packed is not None:
            indices: NDArray[Any] = packed.indices
            restart = None
        elif "indices" in primitive:
            number = index(primitive, "indices", where, len(self._document.accessors))
            kind, _ = self._accessors.component(number)
            if kind.kind != "u" or self._accessors.width(number) != 1:
                raise wrong(f"{where}.indices", "are no list of whole numbers", came=f"accessors[{number}]")
            indices = self._accessors.raw(number)[:, 0]
            restart = int(np.iinfo(kind).max)
        else:
            return np.arange(count, dtype=np.uint32)
        largest = int(indices.max()) if len(indices) else -1
        if largest >= count:
            raise UnreadableFile(
                f"{where}.indices lead to vertices that are not there",
                expected=f"below {count:,}",
                came=f"{largest:,}",
                help="export the mesh again",
            )
        if largest == restart:
            self._document.note(
                "restart-index",
                "error",
                f"the index {largest:,} is the restart mark of its type, which glTF forbids as a vertex number",
                place=where,
                help="export with wider indices",
            )
        return indices

    def _triangles(self, indices: NDArray[np.unsignedinteger[Any]], mode: int, where: str) -> NDArray[np.int32]:
        count = len(indices) // 3 if mode == _LIST else max(len(indices) - 2, 0)
        self.take(triangles=count)
        if mode == _STRIP:
            return strip_triangles(indices)
        if mode == _FAN:
            return fan_triangles(indices)
        left_over = len(indices) % 3
        if left_over:
            self._document.note(
                "left-over-indices",
                "warning",
                f"the number of indices is no multiple of three; the last {left_over} were left out",
                place=where,
            )
        return list_triangles(indices)

    def _check_finite(self, values: NDArray[np.float64], name: str, where: str) -> None:
        # One sum shows whether anything is wrong at all: NaN and infinity survive every addition, and what float32
        # can hold does not overflow float64.
        with np.errstate(invalid="ignore"):
            total = values.sum()
        if np.isfinite(total):
            return
        bad = int((~np.isfinite(values)).any(axis=1).sum())
        self._document.note(
            f"bad-{name}s",
            "error",
            f"{bad:,} of {len(values):,} vertices have a {name} that is not a number",
            place=where,
            help="clean the mesh and export again",
        )

    def take(self, *, triangles: int = 0, vertices: int = 0) -> None:
        """Counts against the limits over the whole file. Raises LimitExceeded."""
        self._document.triangles_left -= triangles
        self._document.vertices_left -= vertices
        if self._document.triangles_left < 0 or self._document.vertices_left < 0:
            limits = self._document.limits
            raise LimitExceeded(
                "the meshes are larger than the limits allow",
                expected=f"at most {limits.triangles:,} triangles and {limits.vertices:,} vertices in one file",
                help="hand over fewer or lighter meshes in one file",
            )


class _Columns:
    """Vertex attributes of one primitive as float64, read-only. kept: the vertices it keeps, None all of them."""

    def __init__(
        self,
        document: GltfDocument,
        accessors: GltfAccessors,
        attributes: dict[str, int],
        packed: draco.DracoGeometry | None,
        count: int,
        kept: NDArray[Any] | None,
        where: str,
    ) -> None:
        self._document = document
        self._accessors = accessors
        self._attributes = attributes
        self._packed = packed.attributes if packed else {}
        self._count = count
        self._kept = kept
        self._where = where

    def read(self, name: str, widths: tuple[int, ...], *, uvs: bool = False) -> NDArray[np.float64]:
        """(n, width) values of an attribute, V-up for `uvs`. Raises UnreadableFile when they are not of that shape."""
        normalized = self._check(name, widths)
        if name in self._packed:
            values = as_columns(self._packed[name], normalized)
            values = v_up(values) if uvs else values
        else:
            number = self._attributes[name]
            values = self._accessors.uvs(number) if uvs else self._accessors.columns(number)
        if self._kept is not None and len(self._kept) != self._count:
            values = values[self._kept]
        return frozen_array(values)

    def optional(self, name: str, widths: tuple[int, ...]) -> NDArray[np.float64] | None:
        """The same, or None when the primitive does not carry it."""
        return self.read(name, widths) if name in self._attributes else None

    def uv_layers(self, triangles: NDArray[np.int32]) -> tuple[UvLayer, ...]:
        """Every UV set, in the order of their numbers."""
        layers = []
        for name in self._attributes:
            found = _UV.fullmatch(name)
            if found:
                layers.append(UvLayer(int(found[1]), name, self.read(name, (2,), uvs=True), triangles))
        layers.sort(key=lambda layer: layer.index)
        gaps = [layer.index for place, layer in enumerate(layers) if layer.index != place]
        if gaps:
            self._document.note(
                "uv-layer-gap",
                "warning",
                f"UV layers are not numbered without gaps: TEXCOORD_{gaps[0]}",
                place=self._where,
            )
        return tuple(layers)

    def _check(self, name: str, widths: tuple[int, ...]) -> bool:
        """Proves type and count; whether the values are normalised."""
        number, place = self._attributes[name], f"{self._where}.attributes.{name}"
        width = self._accessors.width(number)
        if width not in widths:
            raise wrong(place, "has the wrong type", expected=f"VEC{widths[0]}", came=f"{width} components")
        if name not in self._packed and self._accessors.count(number) != self._count:
            raise wrong(
                place,
                "has another number of values than the positions",
                expected=f"{self._count:,}",
                came=f"{self._accessors.count(number):,}",
            )
        kind, normalized = self._accessors.component(number)
        if kind == np.uint32:
            raise wrong(place, "has the wrong component type", came="unsigned 32-bit whole numbers")
        declared = _QUANTIZED in self._document.used_extensions
        if kind.kind != "f" and not declared and not _core_integer(name, kind, normalized):
            self._document.note(
                "undeclared-quantization",
                "warning",
                f"{name} is stored in whole numbers, and {_QUANTIZED} is not declared",
                place=self._where,
            )
        if name in self._packed and self._packed[name].shape != (self._count, width):
            raise wrong(
                place,
                "is packed in another size than stated",
                expected=f"{self._count:,} x {width}",
                came=" x ".join(f"{size:,}" for size in self._packed[name].shape),
            )
        return normalized


def _core_integer(name: str, kind: np.dtype[Any], normalized: bool) -> bool:
    """What glTF allows without an extension: unsigned normalised UVs and colours."""
    return normalized and kind.kind == "u" and name.startswith(("TEXCOORD_", "COLOR_"))


def _position_uses(meshes: list[Json]) -> Counter[int]:
    """How many primitives name each accessor as their positions. Damaged entries are met again, and refused, later."""
    uses: Counter[int] = Counter()
    for mesh in meshes:
        primitives = mesh.get("primitives")
        for primitive in primitives if isinstance(primitives, list) else ():
            attributes = primitive.get("attributes") if isinstance(primitive, dict) else None
            position = attributes.get("POSITION") if isinstance(attributes, dict) else None
            if isinstance(position, int):
                uses[position] += 1
    return uses
