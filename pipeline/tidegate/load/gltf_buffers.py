"""Buffers and buffer views: the bytes behind accessors and embedded images (glTF 2.0 section 3.6.1)."""

from __future__ import annotations

from tidegate.errors import UnreadableFile
from tidegate.model.reference import FileReference

from .data_uri import data_uri_head, data_uri_mime, decode_data_uri, is_data_uri
from .gltf_document import GltfDocument
from .gltf_values import index, integer, text, wrong
from .not_a_picture import pointer_text
from .references import folder_of

_MESHOPT = ("EXT_meshopt_compression", "KHR_meshopt_compression")


class GltfBuffers:
    """Reads each buffer when its bytes are first asked for, so that a missing one costs only what needs it."""

    def __init__(self, document: GltfDocument) -> None:
        self._document = document
        self._bytes: dict[int, memoryview] = {}
        self._references: list[FileReference | None] = [self._reference(i) for i in range(len(document.buffers))]

    @property
    def references(self) -> tuple[FileReference, ...]:
        """One reference for each buffer that names a file or holds a data URI."""
        return tuple(reference for reference in self._references if reference is not None)

    def view(self, number: int) -> tuple[memoryview, int]:
        """Bytes of a buffer view, and its stride (0: tightly packed). Raises UnreadableFile."""
        where = f"bufferViews[{number}]"
        view = self._document.views[number]
        buffer = index(view, "buffer", where, len(self._document.buffers))
        start = integer(view, "byteOffset", where, default=0)
        length = integer(view, "byteLength", where)
        stride = integer(view, "byteStride", where, default=0)
        data = self._buffer(buffer)
        if start + length > len(data):
            raise wrong(
                where,
                "reaches beyond its buffer",
                expected=f"{start + length:,} bytes in buffers[{buffer}]",
                came=f"{len(data):,} bytes",
            )
        return data[start : start + length], stride

    def is_unpacked(self, number: int) -> bool:
        """Whether the bytes of a buffer view are what they are, and no meshopt stream without a fallback."""
        view = self._document.views[number]
        return not any(name in (view.get("extensions") or {}) for name in _MESHOPT)

    def _reference(self, number: int) -> FileReference | None:
        uri = self._uri(number)
        if uri is None:
            return None
        if is_data_uri(uri):
            return FileReference(
                data_uri_head(uri), "buffer", "embedded", mime=data_uri_mime(uri), name=self._name(number)
            )
        folder = self._document.folder
        return folder.resolve(uri, base=folder_of(self._document.path), kind="buffer", percent_encoded=True)

    def _buffer(self, number: int) -> memoryview:
        """The bytes of a buffer, exactly as many as it states."""
        if number in self._bytes:
            return self._bytes[number]
        where = f"buffers[{number}]"
        length = integer(self._document.buffers[number], "byteLength", where)
        data = self._read(number, where)
        if len(data) < length:
            raise UnreadableFile(
                f"{where} is too short",
                expected=f"{length:,} bytes",
                came=f"{len(data):,} bytes" + self._named(number),
                help="copy the buffer file again, or export the mesh again",
            )
        self._bytes[number] = data[:length]
        return self._bytes[number]

    def _read(self, number: int, where: str) -> memoryview:
        document = self._document
        uri, reference = self._uri(number), self._references[number]
        if uri is None or reference is None:
            packed = any(name in (document.buffers[number].get("extensions") or {}) for name in _MESHOPT)
            if number == 0 and document.binary is not None and not packed:
                return document.binary
            if packed:
                raise UnreadableFile(
                    "the geometry is packed with meshopt compression, which is not read here",
                    came=f"{where} holds no bytes of its own",
                    help="export without mesh compression",
                )
            raise UnreadableFile(f"{where} names no file and the file carries no bytes for it", help="export again")
        if reference.status == "embedded":
            try:
                return memoryview(decode_data_uri(uri))
            except ValueError as fault:
                raise UnreadableFile(f"{where} cannot be read: {fault}", help="export the mesh again") from fault
        if reference.status == "missing":
            raise UnreadableFile(
                f"the buffer file {reference.text!r} is missing",
                expected=f"{integer(document.buffers[number], 'byteLength', where):,} bytes of geometry beside the mesh",
                came="no such file in the drop",
                help="hand over the buffer file together with the glTF, or export as GLB",
            )
        if reference.status == "outside":
            raise UnreadableFile(
                f"the buffer file {reference.text!r} lies outside the drop",
                expected="a path relative to the mesh and inside the drop",
                done="it was not opened",
                help="put the buffer file beside the glTF, or export as GLB",
            )
        data = document.folder.read_bytes(reference.path, document.limits.file_bytes)
        if pointer_text(data[:1024]):
            raise UnreadableFile(
                f"the buffer file {reference.text!r} is the pointer text of a large-file store; the geometry was not fetched",
                help="fetch the large files of the repository, then hand over again",
            )
        return memoryview(data)

    def _uri(self, number: int) -> str | None:
        buffer = self._document.buffers[number]
        return text(buffer, "uri", f"buffers[{number}]") if "uri" in buffer else None

    def _name(self, number: int) -> str:
        name = self._document.buffers[number].get("name", "")
        return name if isinstance(name, str) else ""

    def _named(self, number: int) -> str:
        reference = self._references[number]
        return f" in {reference.text!r}" if reference is not None and reference.status != "embedded" else ""
