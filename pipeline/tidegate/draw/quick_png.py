"""PNG files of large drawings, written several times as fast as a general encoder does.

Drawings are runs of few colors, so rows are kept as they are (filter 0, PNG specification, section 9), and bands of rows
are packed side by side: each ends on a byte border (RFC 1951, 3.2.4), so the bands put together are one stream. The bands
do not depend on the machine, so neither do the bytes.
"""

from __future__ import annotations

import struct
import zlib
from concurrent.futures import ThreadPoolExecutor

import numpy as np
from numpy.typing import NDArray

_COLOR_TYPE = {1: 0, 2: 4, 3: 2, 4: 6}  # channels -> PNG color type
_BAND_BYTES = 1 << 22
_THREADS = 2


def quick_png(picture: NDArray[np.uint8]) -> bytes:
    """The PNG of (height, width, channels) 8-bit: 1 grey, 2 grey and alpha, 3 RGB, 4 RGB and alpha."""
    height, width, channels = picture.shape
    rows = np.zeros((height, 1 + width * channels), np.uint8)  # the first byte of each row names its filter
    rows[:, 1:] = picture.reshape(height, -1)
    band = max(1, _BAND_BYTES // rows.shape[1])
    starts = range(0, height, band)
    with ThreadPoolExecutor(_THREADS) as threads:
        packed = list(threads.map(lambda start: _packed(rows[start : start + band], start + band >= height), starts))
    head = struct.pack(">IIBBBBB", width, height, 8, _COLOR_TYPE[channels], 0, 0, 0)
    stream = b"".join([b"\x78\x01", *packed, struct.pack(">I", zlib.adler32(rows.data))])
    return b"".join((b"\x89PNG\r\n\x1a\n", _chunk(b"IHDR", head), _chunk(b"IDAT", stream), _chunk(b"IEND", b"")))


def _packed(rows: NDArray[np.uint8], last: bool) -> bytes:
    packer = zlib.compressobj(1, zlib.DEFLATED, -15, 9)
    return packer.compress(rows.data) + packer.flush(zlib.Z_FINISH if last else zlib.Z_FULL_FLUSH)


def _chunk(kind: bytes, data: bytes) -> bytes:
    return b"".join((struct.pack(">I", len(data)), kind, data, struct.pack(">I", zlib.crc32(data, zlib.crc32(kind)))))
