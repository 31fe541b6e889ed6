"""BMP header facts (BITMAPFILEHEADER, BITMAPINFOHEADER, BITMAPV5HEADER as Microsoft documents them)."""

from __future__ import annotations

import struct

from .window import Facts, Window, Wrong

_COMPRESSIONS = {0: "none", 1: "rle", 2: "rle", 3: "none", 4: "dct", 5: "deflate", 6: "none"}
_HEADER_SIZES = (12, 40, 52, 56, 64, 108, 124)


def plausible(head: bytes) -> bool:
    """ "BM" alone is too little of a signature; the size of the second header must be a known one."""
    return head.startswith(b"BM") and len(head) >= 18 and struct.unpack_from("<I", head, 14)[0] in _HEADER_SIZES


def read(file: Window, facts: Facts) -> None:
    """Fills `facts` and proves that uncompressed pixels fit in the file."""
    _, stated_size, _, start, header_size = file.unpack("<2sIIII", 0, "the BMP header")
    masks = (0, 0, 0, 0)
    compression = used = 0
    if header_size == 12:
        width, height, planes, depth = file.unpack("<HHHH", 18, "the BMP header")
    else:
        width, height, planes, depth, compression, _, _, _, used, _ = file.unpack("<iiHHIIiiII", 18, "the BMP header")
        if header_size >= 56 or compression in (3, 6):
            colors, alpha = file.unpack("<III", 54, "the BMP header"), (0,)
            if header_size >= 56 or compression == 6:
                alpha = file.unpack("<I", 66, "the BMP header")
            masks = (*colors, *alpha)
    facts.update(width=abs(width), height=abs(height), origin="top-left" if height < 0 else "bottom-left")
    if width <= 0 or height == 0:
        raise Wrong("damaged", f"the header states {width} x {height} pixels")
    if planes != 1 or depth not in (1, 2, 4, 8, 16, 24, 32) or compression not in _COMPRESSIONS:
        raise Wrong("damaged", f"{planes} planes, {depth} bits and compression {compression} do not exist in BMP")
    facts.update(bits_per_pixel=depth, compression=_COMPRESSIONS[compression], lossy=compression == 4)
    if depth <= 8:
        facts.update(color_model="palette", channels=1, bits_per_channel=depth, palette=used or 1 << depth)
    else:
        alpha_bits = masks[3].bit_count() if compression in (3, 6) else 0
        channels = 4 if depth == 32 or alpha_bits else 3
        widest = max((mask.bit_count() for mask in masks), default=0) if compression in (3, 6) else 0
        facts.update(color_model="rgb", channels=channels, alpha_bits=alpha_bits)
        facts["bits_per_channel"] = widest or (5 if depth == 16 else 8)
    if header_size >= 108:
        (space,) = file.unpack("<4s", 70, "the BMP header")  # a letter code, stored back to front
        name = space[::-1].decode("latin-1").strip()
        facts["color_chunks"] = (("color space", name if name.isprintable() and any(space) else "calibrated"),)
    if compression in (0, 3, 6):
        row = (width * depth + 31) // 32 * 4
        file.must_reach(start + row * abs(height), f"{width} x {abs(height)} pixels of {depth} bits")
    elif stated_size:
        file.must_reach(stated_size, "its own stated length")
