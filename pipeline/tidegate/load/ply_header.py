"""Header of a PLY file: what its elements and their properties are.

Source: G. Turk, "The PLY Polygon File Format", 1994. `comment TextureFile NAME` is common practice, no source.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from tidegate.errors import UnreadableFile

_TYPES = {
    "char": "i1", "int8": "i1", "uchar": "u1", "uint8": "u1", "short": "i2", "int16": "i2", "ushort": "u2",
    "uint16": "u2", "int": "i4", "int32": "i4", "uint": "u4", "uint32": "u4", "float": "f4", "float32": "f4",
    "double": "f8", "float64": "f8",
}  # fmt: skip  # a table, read by its rows
_FORMATS = {"ascii": "", "binary_little_endian": "<", "binary_big_endian": ">"}
_HEADER_BYTES = 1 << 20


@dataclass(frozen=True, slots=True)
class Property:
    """count: type of the list's length, None for a single value. item: type of the values, in the file's byte order."""

    name: str
    count: np.dtype[np.generic] | None
    item: np.dtype[np.generic]


@dataclass(frozen=True, slots=True)
class Element:
    """A kind of row (`vertex`, `face`) and how many rows of it follow."""

    name: str
    rows: int
    properties: tuple[Property, ...]


@dataclass(frozen=True, slots=True)
class Header:
    """is_text: the body is ASCII numbers. start: where the body begins. textures: names from `TextureFile` comments."""

    is_text: bool
    elements: tuple[Element, ...]
    start: int
    textures: tuple[str, ...]


def read_header(data: bytes) -> Header:
    """Raises UnreadableFile, without a path, for anything that is no whole PLY header."""
    end = data.find(b"end_header", 0, _HEADER_BYTES)
    if end < 0:
        raise UnreadableFile(
            "the PLY header has no end",
            expected='a line "end_header"',
            came=f"{len(data):,} bytes",
            help="export again",
        )
    start = end + len(b"end_header")
    if data[start : start + 2] == b"\r\n":
        start += 2
    elif data[start : start + 1] in (b"\n", b"\r"):
        start += 1
    elif start < len(data):
        raise _bad("end_header", "no line end after it")
    # Names may be in any encoding; only their bytes matter, and these survive the way back to the disk.
    lines = data[:end].decode("utf-8", "surrogateescape").splitlines()
    order: str | None = None
    textures: list[str] = []
    elements: list[tuple[str, int, list[Property]]] = []
    for line in lines[1:]:
        words = line.split()
        if not words or words[0] in ("comment", "obj_info"):
            lead, found, name = line.partition("TextureFile")
            if found and lead.split() == ["comment"] and name.strip():
                textures.append(name.strip())
        elif words[0] == "format" and len(words) == 3 and words[1] in _FORMATS:
            order = _FORMATS[words[1]]
        elif words[0] == "element" and len(words) == 3 and words[2].isascii() and words[2].isdigit():
            elements.append((words[1], int(words[2][:18]), []))
        elif words[0] == "property" and elements:
            elements[-1][2].append(_property(line, words, order or ""))
        else:
            raise _bad(line, "it is not understood")
    if order is None:
        raise UnreadableFile("the PLY header states no known format", expected="ascii or binary_*_endian")
    return Header(order == "", tuple(Element(n, rows, tuple(p)) for n, rows, p in elements), start, tuple(textures))


def _property(line: str, words: list[str], order: str) -> Property:
    is_list = words[1:2] == ["list"]
    kinds, names = (words[2:4], words[4:]) if is_list else (words[1:2], words[2:])
    if len(names) != 1 or any(kind not in _TYPES for kind in kinds):
        raise _bad(line, "it is not understood")
    types = [np.dtype((order or "<") + _TYPES[kind]) for kind in kinds]
    if is_list and types[0].kind == "f":
        raise _bad(line, "a list cannot have a broken length")
    return Property(names[0], types[0] if is_list else None, types[-1])


def _bad(line: str, why: str) -> UnreadableFile:
    return UnreadableFile(
        f"a line of the PLY header is wrong: {why}", came=repr(line)[:80], help="export the mesh again"
    )
