"""Images of a glTF file as references: named files, data URIs, and pictures inside buffers (section 3.8.2).

Nothing is decoded here. Reference i is image i, so `embedded:i` names it.
"""

from __future__ import annotations

from tidegate.errors import LimitExceeded, UnreadableFile
from tidegate.model.reference import FileReference

from .data_uri import data_uri_head, data_uri_mime, decode_data_uri, is_data_uri
from .gltf_buffers import GltfBuffers
from .gltf_document import GltfDocument
from .gltf_values import index, integer, text
from .references import folder_of


def read_images(document: GltfDocument, buffers: GltfBuffers) -> tuple[FileReference, ...]:
    """One reference an image, used by a texture or not. Raises UnreadableFile for values of the wrong kind."""
    reader = _Images(document, buffers)
    return tuple(reader.read(number) for number in range(len(document.images)))


class _Images:
    def __init__(self, document: GltfDocument, buffers: GltfBuffers) -> None:
        self._document = document
        self._buffers = buffers
        self._blobs: dict[int, bytes] = {}
        # Pictures do not overlap in an honest file, so together they are no larger than the buffers they lie in.
        self._bytes_left = sum(
            integer(buffer, "byteLength", f"buffers[{i}]") for i, buffer in enumerate(document.buffers)
        )

    def read(self, number: int) -> FileReference:
        where = f"images[{number}]"
        image = self._document.images[number]
        name, mime = text(image, "name", where), text(image, "mimeType", where)
        if "uri" in image and "bufferView" in image:
            self._document.note(
                "image-twice", "warning", "an image names a file and a buffer; the file counts", place=where
            )
        if "uri" in image:
            return self._named(text(image, "uri", where), mime, name, where)
        if "bufferView" not in image:
            self._document.note("image-without-source", "error", "an image has neither a file nor bytes", place=where)
            return FileReference("", "image", "unreadable", mime=mime, name=name)
        view = index(image, "bufferView", where, len(self._document.views))
        try:
            blob = self._blob(view)
        except LimitExceeded:
            raise
        except UnreadableFile as fault:
            self._document.note(
                "image-bytes-missing",
                "error",
                f"the bytes of an embedded image are not there: {fault.what}",
                place=where,
                help="export the mesh again",
            )
            return FileReference("", "image", "unreadable", mime=mime, name=name)
        return FileReference("", "image", "embedded", mime=mime, name=name, blob=blob)

    def _named(self, uri: str, mime: str, name: str, where: str) -> FileReference:
        document = self._document
        if not is_data_uri(uri):
            found = document.folder.resolve(uri, base=folder_of(document.path), kind="image", percent_encoded=True)
            return FileReference(
                found.text, found.kind, found.status, path=found.path, library=found.library, mime=mime, name=name
            )
        head, mime = data_uri_head(uri), mime or data_uri_mime(uri)
        try:
            blob = decode_data_uri(uri)
        except ValueError as fault:
            document.note("image-bytes-missing", "error", f"an embedded image cannot be read: {fault}", place=where)
            return FileReference(head, "image", "unreadable", mime=mime, name=name)
        return FileReference(head, "image", "embedded", mime=mime, name=name, blob=blob)

    def _blob(self, view: int) -> bytes:
        if view not in self._blobs:
            data, _ = self._buffers.view(view)
            self._bytes_left -= len(data)
            if self._bytes_left < 0:
                raise LimitExceeded(
                    "the embedded images are larger than the buffers they lie in",
                    came="buffer views that overlap",
                    help="export the mesh again",
                )
            self._blobs[view] = bytes(data)
        return self._blobs[view]
