"""How much one file may ask for before it is refused unread."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class ReadLimits:
    """Limits of every reader. A file beyond one of them raises LimitExceeded and is not judged.

    The defaults let through any prop we can imagine (tens of millions of triangles) and stop what would take a
    worker's memory; common practice, no source.
    file_bytes: of one mesh, buffer or material file. json_bytes, json_depth: of the JSON of a glTF file.
    elements: values (not bytes) one accessor may hold. unbacked_elements: values of a file that no bytes stand for
    (glTF accessors without a buffer view). accessors, nodes, meshes, materials,
    images: how many of each. triangles, vertices: of one mesh file with every instance counted. pixels: of one
    picture. text_line: bytes of one line of a text format.
    """

    file_bytes: int = 4 << 30
    json_bytes: int = 256 << 20
    json_depth: int = 64
    elements: int = 400_000_000
    unbacked_elements: int = 30_000_000
    accessors: int = 1_000_000
    nodes: int = 1_000_000
    meshes: int = 200_000
    materials: int = 100_000
    images: int = 100_000
    triangles: int = 20_000_000
    vertices: int = 40_000_000
    pixels: int = 1 << 30
    text_line: int = 16 << 20


DEFAULT_LIMITS = ReadLimits()
