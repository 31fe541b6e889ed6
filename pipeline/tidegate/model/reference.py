"""What a mesh file points at, and what its reader noticed on the way."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class FileReference:
    """One file that a mesh or material library names.

    text: exactly as written. kind: "image", "buffer" or "material library".
    status: "present", "missing", "wrong-case" (found under other upper and lower case), "outside" (absolute,
    a URL, a network share, or above the drop: never opened), "embedded" (inside the mesh file or a data URI),
    "unreadable" (embedded, but the bytes are not there).
    path: the file found, relative to the drop, or "". With the status "outside" it is a file of the same bare name
    that lies in the drop or a library: the reference stays wrong, but its map can still be bound and measured.
    library: the file was found in a read-only library folder, whose path then stands in `path` in full.
    mime: stated or implied media type, "". data: (offset, length) of an embedded image in `blob`.
    """

    text: str
    kind: str
    status: str
    path: str = ""
    library: bool = False
    mime: str = ""
    name: str = ""
    blob: bytes | None = None


@dataclass(frozen=True, slots=True)
class ReadNote:
    """Something the reader met. code: a short plain name (`unknown-extension`, `faces-without-uv`, ...).

    level: "error", "warning" or "note". message: stands alone, lower case, no full stop.
    """

    code: str
    level: str
    message: str
    help: str = ""
    place: str = ""
