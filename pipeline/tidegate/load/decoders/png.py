"""PNG pixels, with the two checks that Pillow leaves out: checksums of the pixel data, and that no row is missing."""

from __future__ import annotations

import warnings
import zlib
from collections.abc import Iterator
from typing import BinaryIO

import numpy as np
from numpy.typing import NDArray

from ...errors import UnreadableFile
from ...model.image_header import ImageHeader
from ..headers.png import SIGNATURE
from . import pillow, sixteen_bit

Pixels = NDArray[np.generic]

# Adam7: first column, first row, steps right and down of each pass (PNG 8.1).
_ADAM7 = ((0, 0, 8, 8), (4, 0, 8, 8), (0, 4, 4, 8), (2, 0, 4, 4), (0, 2, 2, 4), (1, 0, 2, 2), (0, 1, 1, 2))
_UNPACK_STEP = 1 << 18


def decode(stream: BinaryIO, header: ImageHeader) -> Pixels:
    """(h, w, c) uint8, or uint16 for 16-bit channels; one clear colour becomes an alpha channel."""
    _check_sums(stream)
    if header.bits_per_channel == 16:
        values: Pixels = sixteen_bit.decode_png(stream, header)
        proven = bool(values[-1].any())  # rows that did not come are zero
    else:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")  # odd metadata beside the pixels
            picture = pillow.opened(stream, "png")
            proven = pillow.load_watched(picture, header)
            values = pillow.laid_out(picture, header)
    if header.interlaced or not proven:  # rows that did not come may lie anywhere among the seven passes
        _count_rows(stream, header)
    return _with_clear_color(values, header)


def _check_sums(stream: BinaryIO) -> None:
    """The checksum of every chunk (PNG 5.3), which Pillow skips for pixel data. Leaves the stream at its start."""
    stream.seek(len(SIGNATURE))
    while len(head := stream.read(8)) == 8:
        body = stream.read(int.from_bytes(head[:4], "big") + 4)
        if zlib.crc32(body[:-4], zlib.crc32(head[4:])) != int.from_bytes(body[-4:], "big"):
            raise UnreadableFile(
                f"the checksum of a {head[4:].decode('latin-1')} chunk does not match its content",
                came="a byte was changed or lost after the file was written",
            )
        if head[4:] == b"IEND":
            break
    stream.seek(0)


def _count_rows(stream: BinaryIO, header: ImageHeader) -> None:
    """Unpacks the stream once more and counts: Pillow takes one that ends early for a whole picture."""
    wanted = _row_bytes(header)
    came = 0
    unpack = zlib.decompressobj()
    for part in _pixel_parts(stream):
        while part and not unpack.eof:
            came += len(unpack.decompress(part, _UNPACK_STEP))
            part = unpack.unconsumed_tail
    came += len(unpack.flush())
    if came < wanted:
        raise UnreadableFile("rows of pixels are missing", expected=f"{wanted:,} bytes of rows", came=f"{came:,} bytes")


def _row_bytes(header: ImageHeader) -> int:
    """Bytes of all rows with their filter bytes, of all seven passes where interlaced (PNG 7.2, 8.1)."""
    total = 0
    for left, top, right, down in _ADAM7 if header.interlaced else ((0, 0, 1, 1),):
        width = (header.width - left + right - 1) // right
        height = (header.height - top + down - 1) // down
        if width > 0 and height > 0:
            total += height * (1 + (width * header.bits_per_pixel + 7) // 8)
    return total


def _pixel_parts(stream: BinaryIO) -> Iterator[bytes]:
    """Content of the IDAT chunks, in steps."""
    at = len(SIGNATURE)
    stream.seek(at)
    while len(head := stream.read(8)) == 8:
        length = int.from_bytes(head[:4], "big")
        if head[4:] == b"IDAT":
            left = length
            while left > 0 and (part := stream.read(min(left, _UNPACK_STEP))):
                left -= len(part)
                yield part
        at += 12 + length
        stream.seek(at)


def _with_clear_color(values: Pixels, header: ImageHeader) -> Pixels:
    """Alpha from the one see-through colour that a PNG without an alpha channel may name (11.3.1.1)."""
    stated = dict(header.color_chunks).get("tRNS")
    if stated is None or header.color_model == "palette":
        return values
    most = (1 << header.bits_per_channel) - 1
    top = 65535 if values.dtype == np.uint16 else 255
    color = [int(part) * top // most for part in stated.split()]
    if len(color) != values.shape[2]:
        raise UnreadableFile("the see-through colour has another number of channels than the picture")
    clear = np.all(values == np.array(color, values.dtype), axis=2)
    alpha = np.where(clear, 0, top).astype(values.dtype)
    return np.concatenate([values, alpha[:, :, None]], axis=2)
