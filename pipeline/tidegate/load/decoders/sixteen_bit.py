"""16-bit PNG and TIFF at full depth.

Pillow keeps the high byte of 16-bit colour and drops the low one. Its unpackers come in both byte orders, though, and
the one for the other order keeps the low byte where ours keeps the high byte. So the pixels are unpacked twice, once
by each, and joined. That also covers every compression, filter and interlace that Pillow knows.
"""

from __future__ import annotations

import io
import sys
import warnings
import zlib
from typing import BinaryIO

import numpy as np
from numpy.typing import NDArray
from PIL import ImageFile

from ...errors import NoReader
from ...model.image_header import ImageHeader
from ...model.mip_levels import decoded_channels
from .pillow import load, opened, same_size

_OTHER = {"B": "L", "L": "B", "N": "B" if sys.byteorder == "little" else "L"}


def decode_png(stream: BinaryIO, header: ImageHeader) -> NDArray[np.uint16]:
    """Grey, grey and alpha, RGB or RGBA as (h, w, c) uint16."""
    if header.color_model == "grey":
        return _grey_png(stream, header)
    return _two_halves(stream, header)


def decode_tiff(stream: BinaryIO, header: ImageHeader) -> NDArray[np.uint16]:
    """RGB or RGBA as (h, w, c) uint16, interleaved channels only."""
    return _two_halves(stream, header)


def _grey_png(stream: BinaryIO, header: ImageHeader) -> NDArray[np.uint16]:
    """16-bit grey read as 8-bit grey and alpha, 16-bit grey and alpha as 8-bit RGBA.

    Bytes per pixel, filters and interlace are the same, so only the header needs other words; each pixel's bytes then
    come through untouched.
    """
    data = bytearray(stream.read())
    data[24] = 8
    data[25] = 4 if header.channels == 1 else 6
    data[29:33] = zlib.crc32(data[12:29]).to_bytes(4, "big")
    picture = opened(io.BytesIO(data), "png")
    load(picture)
    raw = np.array(picture)
    return raw.view(">u2").astype(np.uint16).reshape(header.height, header.width, header.channels)


def _two_halves(stream: BinaryIO, header: ImageHeader) -> NDArray[np.uint16]:
    start = stream.tell()
    high = _half(stream, header, low=False).astype(np.uint16)
    high <<= 8
    stream.seek(start)
    high |= _half(stream, header, low=True)
    wanted = decoded_channels(header)
    if high.shape[2] < wanted:
        raise NoReader(f"the transparency of this 16-bit {header.format.upper()} is not decoded here")
    return high[:, :, :wanted]  # a channel that the header does not call alpha is left out


def _half(stream: BinaryIO, header: ImageHeader, *, low: bool) -> NDArray[np.uint8]:
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # odd metadata beside the pixels
        picture = opened(stream, header.format)
        same_size(picture, header)
        picture.tile = [_retold(tile, header, low) for tile in picture.tile]
        load(picture)
        values = np.array(picture)
    if values.ndim != 3 or values.shape[2] not in (3, 4):
        raise NoReader(f"16-bit {header.format.upper()} in the colour model {picture.mode} is not decoded here")
    return values


def _retold(tile: ImageFile._Tile, header: ImageHeader, low: bool) -> ImageFile._Tile:
    """The same part of the picture with the unpacker that keeps the wanted byte."""
    codec, box, offset, args = tile
    raw = args if isinstance(args, str) else args[0] if isinstance(args, tuple) else ""
    if raw not in ("RGB;16B", "RGB;16L", "RGB;16N", "RGBA;16B", "RGBA;16L", "RGBA;16N"):
        raise NoReader(f"16-bit {header.format.upper()} with pixels laid out as {raw or 'planes'} is not decoded here")
    if low:
        raw = raw[:-1] + _OTHER[raw[-1]]
    rest = args[1:] if isinstance(args, tuple) else ()
    return ImageFile._Tile(codec, box, offset, raw if isinstance(args, str) else (raw, *rest))
