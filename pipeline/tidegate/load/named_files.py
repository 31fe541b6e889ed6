"""Which files a mesh file names, found quickly and without reading its geometry.

Good enough to tell which files belong together and whether all of them have arrived. What a reference really means is
decided by the readers when the drop is judged.
"""

from __future__ import annotations

import json
import struct
from collections.abc import Iterator
from pathlib import Path
from typing import Any
from urllib.parse import unquote

from .mtl_map import SLOTS, parse_map, unquoted

_MOST_JSON = 64 << 20
_MOST_SCANNED = 1 << 30
_MOST_MTL = 8 << 20
_MOST_NAMES = 10_000
_BLOCK = 1 << 20


def named_files(path: Path) -> tuple[str, ...]:
    """Files a mesh or material library names, relative to its folder, "/" between parts, in file order, once each.

    The maps of an OBJ's material libraries are among them where those libraries can be read. () for a file of another
    kind, a broken one, or one that cannot be opened. Never raises, never opens a path outside the folder of the file.
    """
    suffix = path.suffix.lower()
    try:
        if suffix == ".gltf":
            with path.open("rb") as stream:
                found = _gltf_names(stream.read(_MOST_JSON))
        elif suffix == ".glb":
            found = _gltf_names(_glb_json(path))
        elif suffix == ".obj":
            found = _obj_names(path)
        elif suffix == ".mtl":
            found = _mtl_names(path)
        else:
            return ()
    except (OSError, ValueError, RecursionError, struct.error):
        return ()
    return tuple(dict.fromkeys(name for name in found[:_MOST_NAMES] if name))


def _glb_json(path: Path) -> bytes:
    # glTF 2.0 4.4: 12 bytes of header, then chunks of length, type and data, the JSON first.
    with path.open("rb") as stream:
        head = stream.read(20)
        if len(head) < 20 or head[:4] != b"glTF" or head[16:20] != b"JSON":
            return b"{}"
        (length,) = struct.unpack_from("<I", head, 12)
        return stream.read(min(length, _MOST_JSON))


def _gltf_names(text: bytes) -> list[str]:
    document: Any = json.loads(text.decode("utf-8-sig", "replace"))
    names: list[str] = []
    for key in ("buffers", "images"):
        entries = document.get(key) if isinstance(document, dict) else None
        for entry in entries if isinstance(entries, list) else ():
            uri = entry.get("uri") if isinstance(entry, dict) else None
            if isinstance(uri, str) and not uri[:5].lower().startswith("data:"):
                names.append(_plain(unquote(uri)))
    return names


def _obj_names(path: Path) -> list[str]:
    names: list[str] = []
    for line in _lines_with(path, b"mtllib"):
        text = line[6:].decode("utf-8", "surrogateescape").strip()
        # A name with spaces and a list of names look the same; both readings are offered.
        for one in dict.fromkeys([text, *text.split()]):
            names.append(_plain(one))
    for library in list(dict.fromkeys(names)):
        if library and "/" not in library and library != ".." and not (path.parent / library).is_symlink():
            try:
                names += _mtl_names(path.parent / library)
            except (OSError, ValueError):
                continue
    return names


def _lines_with(path: Path, word: bytes) -> Iterator[bytes]:
    """Lines that begin with a word, from a file of any size."""
    with path.open("rb") as stream:
        rest, read = b"\n", 0
        while read < _MOST_SCANNED and (block := stream.read(_BLOCK)):
            read += len(block)
            text = rest + block
            at = text.find(word)
            while at >= 0:
                end = text.find(b"\n", at)
                if end < 0:
                    break
                start = text.rfind(b"\n", 0, at) + 1
                if not text[start:at].strip() and text[at + len(word) : at + len(word) + 1].isspace():
                    yield text[at:end]
                at = text.find(word, end)
            # Keep the line that is not finished, unless it is too long to be a statement.
            rest = text[text.rfind(b"\n") :] if len(text) - text.rfind(b"\n") < 65_536 else b""
        at = rest.find(word)
        if at >= 0 and not rest[:at].strip() and rest[at + len(word) : at + len(word) + 1].isspace():
            yield rest[at:]


def _mtl_names(path: Path) -> list[str]:
    with path.open("rb") as stream:
        text = stream.read(_MOST_MTL).decode("utf-8", "surrogateescape")
    names: list[str] = []
    for line in text.replace("\\\r\n", " ").replace("\\\n", " ").splitlines():
        word, *rest = line.split(None, 1)[:2] or [""]
        if rest and (word.lower() in SLOTS or word.lower().startswith("map_")):
            names.append(_plain(unquoted(parse_map(rest[0]).file)))
    return names


def _plain(name: str) -> str:
    plain = name.replace("\\", "/").strip().strip('"')
    while plain.startswith("./"):
        plain = plain[2:]
    return plain
