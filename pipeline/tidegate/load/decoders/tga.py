"""TGA pixels: every image type, both directions of both axes, 5-bit colour and colour maps."""

from __future__ import annotations

import struct
from typing import BinaryIO, cast

import numpy as np
from numpy.typing import NDArray

from ...errors import UnreadableFile
from ...model.image_header import ImageHeader
from ...model.mip_levels import decoded_channels
from ..headers.tga import pixels_start
from .pillow import load, opened

# Texel bytes -> image type and depth under which Pillow unpacks run-length packets of that size.
_CARRIERS = {1: (11, 8), 2: (11, 16), 3: (10, 24), 4: (10, 32)}
_STORED = (2, 1, 0, 3)  # where red, green, blue and alpha stand in a stored texel
_TURNED = (0, 1, 2, 3)  # where they stand once Pillow has unpacked it


def decode(stream: BinaryIO, header: ImageHeader) -> NDArray[np.uint8]:
    """(h, w, c) uint8, first row on top."""
    head = stream.read(18)
    stream.seek(0)
    before = stream.read(pixels_start(head))
    texel = (header.bits_per_pixel + 7) // 8
    if header.compression == "rle":
        raw, order = _unpacked(stream, header, texel)
    else:
        size = header.width * header.height * texel
        data = stream.read(size)
        if len(data) != size:
            raise UnreadableFile("the pixels break off", expected=f"{size:,} bytes", came=f"{len(data):,} bytes")
        raw, order = np.frombuffer(data, np.uint8).reshape(header.height, header.width, texel), _STORED
    if header.origin.startswith("bottom"):
        raw = raw[::-1]
    if header.origin.endswith("right"):
        raw = raw[:, ::-1]
    if header.color_model == "palette":
        return _from_map(raw, before[18 + head[0] :], head, header)
    return _colors(raw, header.bits_per_pixel, header.color_model == "grey", decoded_channels(header), order)


def _unpacked(stream: BinaryIO, header: ImageHeader, texel: int) -> tuple[NDArray[np.uint8], tuple[int, ...]]:
    """Texel bytes out of run-length packets, whatever they mean, and where the colours stand in 3 or 4 of them."""
    kind, depth = _CARRIERS[texel]
    head = struct.pack("<BBBHHBHHHHBB", 0, 0, kind, 0, 0, 0, 0, 0, header.width, header.height, depth, 0x20)
    start = stream.tell()
    picture = opened(cast("BinaryIO", _Headed(head, stream, start)), "tga")
    try:
        load(picture)
    except OSError:  # Pillow refuses runs that go on in the next row, which version 1 of TGA allowed
        stream.seek(start)
        return _unpacked_across_rows(stream.read(), header, texel), _STORED
    raw = np.array(picture, dtype=np.uint8).reshape(header.height, header.width, texel)
    return raw, _TURNED


class _Headed:
    """A stream that begins with other bytes and goes on with those of another stream, which is not copied."""

    def __init__(self, head: bytes, rest: BinaryIO, start: int) -> None:
        self._head, self._rest, self._shift = head, rest, start - len(head)
        self._at = 0

    def seek(self, offset: int, whence: int = 0) -> int:
        # Pillow looks for the footer from the end, to drop alpha by it; that is decided already, so it finds nothing.
        self._at = offset if whence == 0 else -1
        return self._at

    def tell(self) -> int:
        return self._at

    def read(self, count: int) -> bytes:
        if self._at < 0:
            return b""
        if self._at < len(self._head):
            data = self._head[self._at : self._at + count]
        else:
            self._rest.seek(self._at + self._shift)
            data = self._rest.read(count)
        self._at += len(data)
        return data


def _unpacked_across_rows(packets: bytes, header: ImageHeader, texel: int) -> NDArray[np.uint8]:
    """Packet by packet, as one long row. Slower, and the last word on whether the packets are whole."""
    wanted = header.width * header.height * texel
    out = bytearray()
    at = 0
    while len(out) < wanted and at < len(packets):
        count = (packets[at] & 127) + 1
        if packets[at] & 128:
            out += packets[at + 1 : at + 1 + texel] * count
            at += 1 + texel
        else:
            out += packets[at + 1 : at + 1 + texel * count]
            at += 1 + texel * count
    if len(out) < wanted or at > len(packets):
        raise UnreadableFile(
            "the run-length packets break off", expected=f"{wanted:,} unpacked bytes", came=f"{len(out):,} bytes"
        )
    return np.frombuffer(bytes(out[:wanted]), np.uint8).reshape(header.height, header.width, texel)


def _colors(
    raw: NDArray[np.uint8], depth: int, grey: bool, channels: int, order: tuple[int, ...] = _STORED
) -> NDArray[np.uint8]:
    """Texel bytes (..., n) -> channel values (..., channels). order: where the colours stand in a texel."""
    if grey:
        return np.ascontiguousarray(raw[..., :channels])
    if depth >= 24 and order == _TURNED:
        return np.ascontiguousarray(raw[..., :channels])
    if depth >= 24:
        # Channel by channel: NumPy copies a fancy or negative last axis of 3 several times slower.
        out = np.empty((*raw.shape[:-1], channels), np.uint8)
        for channel, stored in enumerate(order[:channels]):
            out[..., channel] = raw[..., stored]
        return out
    word = raw[..., 0].astype(np.uint16) | raw[..., 1].astype(np.uint16) << 8
    five = np.stack([word >> 10 & 31, word >> 5 & 31, word & 31], axis=-1)
    out = ((five * 255 + 15) // 31).astype(np.uint8)
    if channels == 4:
        out = np.concatenate([out, (word >> 15).astype(np.uint8)[..., None] * np.uint8(255)], axis=-1)
    return out


def _from_map(raw: NDArray[np.uint8], table: bytes, head: bytes, header: ImageHeader) -> NDArray[np.uint8]:
    first, entries, bits = struct.unpack_from("<HHB", head, 3)
    size = (bits + 7) // 8
    stored = np.frombuffer(table, np.uint8, entries * size).reshape(entries, size)
    colors = _colors(stored, bits, False, 4 if header.palette_alpha else 3)
    index = raw[..., 0].astype(np.int32)
    if raw.shape[-1] == 2:
        index |= raw[..., 1].astype(np.int32) << 8
    index -= first
    if index.min() < 0 or index.max() >= entries:
        raise UnreadableFile("a pixel names a colour that is not in the colour map", expected=f"{entries} colours")
    return colors[index]
