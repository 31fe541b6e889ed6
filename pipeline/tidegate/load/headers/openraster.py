"""OpenRaster facts (OpenRaster file layout, freedesktop.org): a ZIP archive with a stack of layers in XML."""

from __future__ import annotations

import io
import struct
import zlib
from collections.abc import Iterator
from typing import TYPE_CHECKING, cast

from ...model.image_header import ImageLayer
from . import png
from .window import Facts, Window, Wrong

if TYPE_CHECKING:  # both are slow to import, and most pictures are none of these
    import zipfile
    from xml.etree import ElementTree

_MIMETYPE = b"image/openraster"
OPENING_LENGTH = 30 + len("mimetype") + len(_MIMETYPE)
MERGED = "mergedimage.png"
_STACK_LIMIT = 1 << 20  # bytes of stack.xml; a thousand layers take a tenth of it
_PNG_START = 1 << 16
_MOST_ENTRIES = 20_000
_DEEPEST = 100


def named(head: bytes) -> bool:
    """The first archive member is the stored mimetype of OpenRaster. head: the first bytes of the file."""
    return (
        len(head) >= 38
        and struct.unpack_from("<H", head, 26)[0] == 8
        and head[30:38] == b"mimetype"
        and head[38 + struct.unpack_from("<H", head, 28)[0] :].startswith(_MIMETYPE)
    )


def read(file: Window, facts: Facts) -> None:
    """Fills `facts` from stack.xml and the first bytes of the merged picture."""
    archive = _archive(file)
    image = _stack(archive)
    try:
        facts.update(width=int(image.get("w", "")), height=int(image.get("h", "")))
    except ValueError as error:
        raise Wrong("damaged", "stack.xml states no width and height") from error
    if facts["width"] <= 0 or facts["height"] <= 0:
        raise Wrong("damaged", f"stack.xml states {facts['width']} x {facts['height']} pixels")
    facts.update(layers=sum(1 for _ in _layers(image, 0)), has_merged_picture=MERGED in archive.namelist())
    if not facts["has_merged_picture"]:
        facts.update(channels=4, bits_per_channel=8, bits_per_pixel=32, alpha_bits=8, color_model="rgb")
        return
    merged: Facts = {}
    png.read(Window(member(archive, MERGED, _PNG_START, cut=True)), merged, whole=False)
    if (merged["width"], merged["height"]) != (facts["width"], facts["height"]):
        raise Wrong("damaged", f"the merged picture is {merged['width']} x {merged['height']}, not the stack's size")
    facts.update(merged)


def layers(file: Window) -> tuple[ImageLayer, ...]:
    """The layers of the stack, topmost first, as stack.xml lists them. Raises `Wrong`."""
    return tuple(_layers(_stack(_archive(file)), 0))


def merged_png(file: Window, limit: int) -> bytes:
    """The merged picture as PNG bytes. limit: bytes it may take. Raises `Wrong`."""
    return member(_archive(file), MERGED, limit)


def _archive(file: Window) -> zipfile.ZipFile:
    import zipfile

    try:
        archive = zipfile.ZipFile(cast("io.BufferedIOBase", _Stream(file)))
    except (zipfile.BadZipFile, NotImplementedError, UnicodeDecodeError, OSError) as error:
        # The end record takes 22 bytes and a comment of at most 65,535 (APPNOTE 4.3.16).
        start = max(0, file.size - 22 - 65535)
        if b"PK\x05\x06" not in file.upto(start, file.size - 18 - start):
            raise Wrong("truncated", "the directory at the end of the ZIP archive is not there") from error
        raise Wrong("damaged", f"the directory of the ZIP archive does not hold together ({error})") from error
    if len(archive.infolist()) > _MOST_ENTRIES:
        raise Wrong("damaged", f"the archive holds {len(archive.infolist()):,} members")
    return archive


def member(archive: zipfile.ZipFile, name: str, limit: int, *, cut: bool = False) -> bytes:
    """Content of an archive member. limit: bytes it may unpack to; cut: take the first `limit` bytes instead."""
    import zipfile

    try:
        with archive.open(name) as stream:
            data = stream.read(limit if cut else limit + 1)
    except KeyError as error:
        raise Wrong("damaged", f"the archive holds no {name}") from error
    except (zipfile.BadZipFile, zlib.error, EOFError, NotImplementedError, RuntimeError, OSError) as error:
        raise Wrong("damaged", f"{name} in the archive cannot be unpacked ({error})") from error
    if len(data) > limit:
        raise Wrong("too-large", f"{name} in the archive unpacks to more than {limit:,} bytes")
    return data


def _stack(archive: zipfile.ZipFile) -> ElementTree.Element:
    from xml.etree import ElementTree

    raw = member(archive, "stack.xml", _STACK_LIMIT)
    # Entities are how a small XML text grows without end; OpenRaster needs no document type, so none is let in.
    # The text is looked at in plain bytes, so an encoding that could hide the word is refused as well.
    if b"<!" in raw.replace(b"<!--", b"") or b"\0" in raw:
        raise Wrong("damaged", "stack.xml declares a document type or is not UTF-8, which OpenRaster does not need")
    try:
        image = ElementTree.fromstring(raw)  # noqa: S314  no entity can be declared, and the size is limited
    except ElementTree.ParseError as error:
        raise Wrong("damaged", f"stack.xml is not well-formed ({error})") from error
    if image.tag != "image":
        raise Wrong("damaged", f"stack.xml begins with <{image.tag}> instead of <image>")
    return image


def _layers(node: ElementTree.Element, depth: int) -> Iterator[ImageLayer]:
    if depth > _DEEPEST:
        raise Wrong("damaged", f"stacks lie more than {_DEEPEST} deep in one another")
    for child in node:
        if child.tag == "layer":
            yield ImageLayer(child.get("name", ""), child.get("visibility", "visible") != "hidden", _opacity(child))
        elif child.tag == "stack":
            for layer in _layers(child, depth + 1):
                visible = layer.visible and child.get("visibility", "visible") != "hidden"
                yield ImageLayer(layer.name, visible, layer.opacity * _opacity(child))


def _opacity(node: ElementTree.Element) -> float:
    try:
        value = float(node.get("opacity", "1"))
    except ValueError:
        return 1.0
    return min(1.0, max(0.0, value)) if value == value else 1.0


class _Stream(io.RawIOBase):
    """A seekable stream over a window, as zipfile wants one."""

    def __init__(self, file: Window) -> None:
        self._window, self._at = file, 0

    def readable(self) -> bool:
        return True

    def seekable(self) -> bool:
        return True

    def tell(self) -> int:
        return self._at

    def seek(self, offset: int, whence: int = 0) -> int:
        self._at = offset + (0 if whence == 0 else self._at if whence == 1 else self._window.size)
        if self._at < 0:
            self._at = 0
            raise OSError("before the start of the file")
        return self._at

    def read(self, count: int | None = -1) -> bytes:
        data = self._window.upto(self._at, self._window.size if count is None or count < 0 else count)
        self._at += len(data)
        return data
