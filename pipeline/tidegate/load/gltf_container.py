"""The two forms of a glTF file: JSON text, and the binary container GLB (glTF 2.0 section 4.4)."""

from __future__ import annotations

import struct
from dataclasses import dataclass

from tidegate.errors import UnreadableFile
from tidegate.model.reference import ReadNote

from .not_a_picture import described, pointer_text

_MAGIC = b"glTF"
_JSON, _BIN = 0x4E4F534A, 0x004E4942


@dataclass(frozen=True, slots=True, eq=False)
class Container:
    """format: "gltf" or "glb". json: its bytes. binary: the BIN chunk, None when there is none."""

    format: str
    json: bytes
    binary: memoryview | None


def open_container(data: bytes, notes: list[ReadNote]) -> Container:
    """Takes a file apart by its content, whatever its suffix. Raises UnreadableFile without a path."""
    if not data:
        raise UnreadableFile("the file is empty", came="zero bytes", help="copy or export it again")
    if data.startswith(_MAGIC):
        return _open_glb(data, notes)
    head = data[:1024]
    if pointer_text(head):
        raise UnreadableFile(
            "this is the pointer text of a large-file store; the mesh itself was not fetched",
            help="fetch the large files of the repository, then hand over again",
        )
    if head.removeprefix(b"\xef\xbb\xbf").lstrip(b" \t\r\n").startswith(b"{"):
        return Container("gltf", data, None)
    if head.startswith((b"\xff\xfe", b"\xfe\xff")):
        raise UnreadableFile("the JSON is not UTF-8", expected="UTF-8", came="UTF-16", help="export it again")
    raise UnreadableFile(
        "this is neither glTF JSON nor GLB",
        expected='a text that starts with "{", or bytes that start with "glTF"',
        came=described(head) or f"bytes {data[:8].hex(' ')}",
        help="export the mesh again as glTF 2.0",
    )


def _open_glb(data: bytes, notes: list[ReadNote]) -> Container:
    if len(data) < 12:
        raise _cut_off("the 12 bytes of a GLB header", len(data))
    version, length = struct.unpack_from("<II", data, 4)
    if version != 2:
        raise UnreadableFile(
            "this GLB is of another version", expected="version 2", came=f"version {version}", help="export as glTF 2.0"
        )
    if length > len(data):
        raise _cut_off(f"{length:,} bytes, as its header says", len(data))
    if length < len(data):
        notes.append(
            ReadNote(
                "bytes-after-end",
                "warning",
                f"{len(data) - length:,} bytes follow the end that the GLB header states; they were left out",
            )
        )
    chunks = _chunks(memoryview(data)[:length])
    if not chunks or chunks[0][0] != _JSON:
        raise UnreadableFile("the first chunk of the GLB is not JSON", help="export the mesh again")
    binaries = [chunk for kind, chunk in chunks[1:] if kind == _BIN]
    if len(binaries) > 1 or (binaries and chunks[1][0] != _BIN):
        notes.append(
            ReadNote(
                "glb-chunks", "warning", "the BIN chunk of the GLB is not its second and only one; the first was read"
            )
        )
    if any(kind == _JSON for kind, _ in chunks[1:]):
        notes.append(ReadNote("glb-chunks", "warning", "the GLB holds several JSON chunks; the first was read"))
    return Container("glb", bytes(chunks[0][1]), binaries[0] if binaries else None)


def _chunks(body: memoryview) -> list[tuple[int, memoryview]]:
    chunks, at = [], 12
    while at < len(body):
        if at + 8 > len(body):
            raise _cut_off("8 bytes of a chunk header", len(body) - at)
        size, kind = struct.unpack_from("<II", body, at)
        at += 8
        if size > len(body) - at:
            raise _cut_off(f"a chunk of {size:,} bytes", len(body) - at)
        chunks.append((kind, body[at : at + size]))
        at += size
    return chunks


def _cut_off(expected: str, came: int) -> UnreadableFile:
    return UnreadableFile(
        "the GLB is cut off", expected=expected, came=f"{came:,} bytes", help="copy or export the file again"
    )
