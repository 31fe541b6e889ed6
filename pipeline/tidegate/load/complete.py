"""Whether a file has arrived whole, by its own format, from a few reads."""

from __future__ import annotations

import struct
from collections.abc import Callable
from pathlib import Path

from ..errors import UnreadableFile
from .headers import exr, tga
from .headers.window import Window, Wrong
from .image_header import read_header, suffix_format

_ZIP_END = b"PK\x05\x06"
_ZIPS = ("zip", "usdz", "ora", "3mf", "kra")


def complete(path: Path) -> bool | None:
    """True: the file holds all that its format says it must. False: something is missing. None: it cannot be told.

    A True cannot see holes: some copying programs make a file at its full length first and fill it later. Formats that
    end in a mark (PNG, JPEG, ZIP, GIF, TGA with a footer) are proof against that, lengths alone are not. Raises
    UnreadableFile when the file cannot be opened.
    """
    suffix = path.suffix.lower().lstrip(".")
    if suffix_format(path.name) and suffix not in _ZIPS:
        return _picture(path)
    teller = _TELLERS.get(suffix)
    try:
        with Window(path) as file:
            if file.size == 0:
                return False
            return teller(file) if teller else None
    except Wrong as wrong:
        return False if wrong.problem == "truncated" else None
    except OSError as error:
        raise UnreadableFile("cannot be opened", path=str(path), came=str(error.strerror or error)) from error


def _picture(path: Path) -> bool | None:
    header = read_header(path, path.name)
    if header.problem in ("truncated", "zero-byte"):
        return False
    with Window(path) as file:
        if header.problem == "damaged" and not file.upto(max(0, file.size - 64), 64).strip(b"\0"):
            return False  # made at its full length, not filled to its end yet
        if header.problem:
            return None
        if header.format == "tga" and header.compression == "rle":
            return True if tga.has_footer(file) else None
        if header.format == "exr" and not exr.plain(file):
            return None
    if header.format == "dds":
        return True if header.bits_per_pixel else None  # a layout whose length is not known here
    if header.format == "psd" and header.compression == "deflate":
        return None
    return True


def _glb(file: Window) -> bool | None:
    """glTF 2.0, 4.4.2: the third word of the header is the length of the whole file."""
    head = file.upto(0, 4)
    if not b"glTF".startswith(head):
        return None if head.strip(b"\0") else False
    _, _, length = file.unpack("<4sII", 0, "the GLB header")
    return bool(file.size >= length)


def _gltf(file: Window) -> bool | None:
    """JSON of one object ends in a brace; a break just behind an inner brace cannot be told without reading it all."""
    tail = file.upto(max(0, file.size - 256), 256).rstrip()
    return None if not tail or tail.endswith(b"}") else False


def _stl(file: Window) -> bool | None:
    """Binary: 80 bytes, the number of triangles, 50 bytes for each. Text: ends in endsolid."""
    head = file.upto(0, 84)
    if len(head) == 84 and file.size == 84 + 50 * struct.unpack_from("<I", head, 80)[0]:
        return True
    if head.lstrip().startswith(b"solid") and b"\0" not in head:
        return b"endsolid" in file.upto(max(0, file.size - 512), 512)
    (triangles,) = file.unpack("<I", 80, "the triangle count")
    return bool(triangles and file.size >= 84 + 50 * triangles)  # none, in a longer file: not filled yet


def _zip(file: Window) -> bool | None:
    """The end record, with the directory that it points to in front of it (APPNOTE 4.3.16)."""
    head = file.upto(0, 4)
    if not b"PK\x03\x04".startswith(head) and head != _ZIP_END:
        return None if head.strip(b"\0") else False
    start = max(0, file.size - 22 - 65535)
    tail = file.upto(start, file.size - start)
    at = tail.rfind(_ZIP_END)
    while at >= 0:
        if at + 22 <= len(tail):
            size, offset, comment = struct.unpack_from("<IIH", tail, at + 12)
            if at + 22 + comment <= len(tail):
                return bool(offset == 0xFFFFFFFF or offset + size <= start + at)
        at = tail.rfind(_ZIP_END, 0, at)
    return False


_TELLERS: dict[str, Callable[[Window], bool | None]] = {
    "glb": _glb,
    "vrm": _glb,
    "gltf": _gltf,
    "stl": _stl,
    **dict.fromkeys(_ZIPS, _zip),
}
