"""Accessors: typed columns in buffer views, sparse or normalised (glTF 2.0 section 3.6.2).

All sizes are proven against the bytes at hand before an array is made, so a lying count costs nothing.
"""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from tidegate.errors import LimitExceeded, NoReader, UnreadableFile

from .gltf_buffers import GltfBuffers
from .gltf_document import GltfDocument
from .gltf_values import Json, index, integer, mapping, wrong

_COMPONENTS: dict[int, np.dtype[Any]] = {
    5120: np.dtype("<i1"),
    5121: np.dtype("<u1"),
    5122: np.dtype("<i2"),
    5123: np.dtype("<u2"),
    5125: np.dtype("<u4"),
    5126: np.dtype("<f4"),
}
_WIDTHS = {"SCALAR": 1, "VEC2": 2, "VEC3": 3, "VEC4": 4}


class GltfAccessors:
    """Reads accessors and keeps what it read, since instances share them."""

    def __init__(self, document: GltfDocument, buffers: GltfBuffers) -> None:
        self._document = document
        self._buffers = buffers
        self._columns: dict[int, NDArray[np.float64]] = {}
        self._uvs: dict[int, NDArray[np.float64]] = {}

    def count(self, number: int) -> int:
        """Elements the accessor states, proven to lie within the limits."""
        where = f"accessors[{number}]"
        accessor = self._document.accessors[number]
        count, width = integer(accessor, "count", where), self._width(accessor, where)
        if count * width > self._document.limits.elements:
            raise LimitExceeded(
                f"{where} is larger than the limits allow",
                expected=f"at most {self._document.limits.elements:,} values",
                came=f"{count * width:,}",
            )
        return count

    def has_bytes(self, number: int) -> bool:
        """Whether anything but zeros stands behind the accessor."""
        accessor = self._document.accessors[number]
        return "bufferView" in accessor or "sparse" in accessor

    def component(self, number: int) -> tuple[np.dtype[Any], bool]:
        """Component type and whether it is normalised."""
        where = f"accessors[{number}]"
        accessor = self._document.accessors[number]
        normalized = accessor.get("normalized", False)
        if not isinstance(normalized, bool):
            raise wrong(f"{where}.normalized", "is neither true nor false")
        return self._component(accessor, where), normalized

    def width(self, number: int) -> int:
        """Components of an element: 1 to 4."""
        return self._width(self._document.accessors[number], f"accessors[{number}]")

    def raw(self, number: int) -> NDArray[Any]:
        """(count, width) values as stored, a view where possible. Raises UnreadableFile, LimitExceeded."""
        where = f"accessors[{number}]"
        accessor = self._document.accessors[number]
        kind, width, count = self._component(accessor, where), self._width(accessor, where), self.count(number)
        if "bufferView" in accessor:
            view = index(accessor, "bufferView", where, len(self._document.views))
            start = integer(accessor, "byteOffset", where, default=0)
            values = self._slice(view, start, kind, count, width, where)
        else:
            self._document.unbacked_left -= count * width
            if self._document.unbacked_left < 0:
                raise LimitExceeded(
                    f"{where} states values that no bytes stand for, more than the limits allow",
                    expected=f"at most {self._document.limits.unbacked_elements:,} such values in the file",
                )
            values = np.zeros((count, width), kind)
        if "sparse" in accessor:
            values = self._with_sparse(values, mapping(accessor, "sparse", where), where)
        return values

    def columns(self, number: int) -> NDArray[np.float64]:
        """(count, width) float64, normalised integers turned into 0..1 or -1..1 (section 3.6.2.2)."""
        if number not in self._columns:
            _, normalized = self.component(number)
            self._columns[number] = as_columns(self.raw(number), normalized)
        return self._columns[number]

    def uvs(self, number: int) -> NDArray[np.float64]:
        """(count, 2) float64 V-up UVs of a VEC2 accessor."""
        if number not in self._uvs:
            _, normalized = self.component(number)
            self._uvs[number] = v_up(as_columns(self.raw(number), normalized))
        return self._uvs[number]

    def _with_sparse(self, values: NDArray[Any], sparse: Json, where: str) -> NDArray[Any]:
        where = f"{where}.sparse"
        count = integer(sparse, "count", where)
        if count > len(values):
            raise wrong(
                where, "replaces more elements than there are", expected=f"at most {len(values)}", came=str(count)
            )
        at, new = mapping(sparse, "indices", where), mapping(sparse, "values", where)
        kind = self._component(at, f"{where}.indices")
        if kind.kind != "u":
            raise wrong(f"{where}.indices.componentType", "is no unsigned type", came=str(at.get("componentType")))
        places = self._sparse_part(at, kind, count, 1, f"{where}.indices")[:, 0]
        if count and int(places.max()) >= len(values):
            raise wrong(
                f"{where}.indices", "reach beyond the accessor", expected=f"below {len(values)}", came=str(places.max())
            )
        values = values.copy()
        values[places] = self._sparse_part(new, values.dtype, count, values.shape[1], f"{where}.values")
        return values

    def _sparse_part(self, part: Json, kind: np.dtype[Any], count: int, width: int, where: str) -> NDArray[Any]:
        view = index(part, "bufferView", where, len(self._document.views))
        return self._slice(view, integer(part, "byteOffset", where, default=0), kind, count, width, where)

    def _slice(self, view: int, start: int, kind: np.dtype[Any], count: int, width: int, where: str) -> NDArray[Any]:
        if not self._buffers.is_unpacked(view):
            self._refuse_packed(view)
        data, stride = self._buffers.view(view)
        size = kind.itemsize * width
        if stride and stride < size:
            raise wrong(
                f"bufferViews[{view}].byteStride", "is smaller than an element", expected=str(size), came=str(stride)
            )
        needed = start + (stride or size) * (count - 1) + size if count else start
        if needed > len(data):
            raise wrong(
                where,
                f"reaches beyond bufferViews[{view}]",
                expected=f"{needed:,} bytes",
                came=f"{len(data):,} bytes",
            )
        return np.ndarray((count, width), kind, data, start, (stride or size, kind.itemsize))

    def _refuse_packed(self, view: int) -> None:
        """A meshopt view is read only where the file carries the same values unpacked (its fallback buffer)."""
        try:
            self._buffers.view(view)
        except UnreadableFile as fault:
            raise NoReader(
                "the geometry is packed with meshopt compression, which is not read here",
                came=f"bufferViews[{view}] without an unpacked copy",
                help="export without mesh compression",
            ) from fault

    def _component(self, accessor: Json, where: str) -> np.dtype[Any]:
        kind = _COMPONENTS.get(integer(accessor, "componentType", where))
        if kind is None:
            raise wrong(f"{where}.componentType", "is not known", came=str(accessor["componentType"]))
        return kind

    def _width(self, accessor: Json, where: str) -> int:
        width = _WIDTHS.get(str(accessor.get("type")))
        if width is None:
            raise wrong(f"{where}.type", "is not SCALAR or VEC2 to VEC4", came=str(accessor.get("type"))[:40])
        return width


def as_columns(raw: NDArray[Any], normalized: bool) -> NDArray[np.float64]:
    """The values in float64; normalised integers c become c / largest, signed ones no lower than -1."""
    with np.errstate(invalid="ignore"):  # some NaNs speak up when they are widened; they are counted elsewhere
        values = raw.astype(np.float64)
    if normalized and raw.dtype.kind in "iu":
        values /= np.iinfo(raw.dtype).max
        if raw.dtype.kind == "i":
            np.maximum(values, -1.0, out=values)
    return values


def v_up(uvs: NDArray[np.float64]) -> NDArray[np.float64]:
    """The same array with V turned up: glTF counts it downwards from the upper edge (section 3.8.3)."""
    np.subtract(1.0, uvs[:, 1], out=uvs[:, 1])
    return uvs
