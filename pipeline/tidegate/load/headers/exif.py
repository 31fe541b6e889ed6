"""The orientation tag out of an Exif block, which is a small TIFF file (Exif 2.32, 4.6.4: tag 274)."""

from __future__ import annotations

import struct


def orientation(block: bytes) -> int:
    """1 to 8 as Exif states it, 1 when the block states none or is not readable. block: starts with "II" or "MM"."""
    order = {b"II": "<", b"MM": ">"}.get(block[:2])
    if order is None or len(block) < 8:
        return 1
    try:
        (start,) = struct.unpack_from(order + "I", block, 4)
        (count,) = struct.unpack_from(order + "H", block, start)
        for entry in range(count):
            tag, kind = struct.unpack_from(order + "HH", block, start + 2 + 12 * entry)
            if tag == 274 and kind == 3:
                (value,) = struct.unpack_from(order + "H", block, start + 2 + 12 * entry + 8)
                return int(value) if 1 <= value <= 8 else 1
    except struct.error:
        pass
    return 1
