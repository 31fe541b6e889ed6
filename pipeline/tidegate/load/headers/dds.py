"""DDS header facts (DDS_HEADER and DDS_HEADER_DXT10 as Microsoft documents them)."""

from __future__ import annotations

import struct

from ...model.mip_levels import level_sizes
from .window import Facts, Window, Wrong

SIGNATURE = b"DDS "

# Block formats: name, bytes a block of 4 x 4, channels, alpha bits.
_BLOCKS = {
    b"DXT1": ("bc1", 8, 4, 1),
    b"DXT2": ("bc2", 16, 4, 4),
    b"DXT3": ("bc2", 16, 4, 4),
    b"DXT4": ("bc3", 16, 4, 8),
    b"DXT5": ("bc3", 16, 4, 8),
    b"ATI1": ("bc4", 8, 1, 0),
    b"BC4U": ("bc4", 8, 1, 0),
    b"BC4S": ("bc4", 8, 1, 0),
    b"ATI2": ("bc5", 16, 2, 0),
    b"BC5U": ("bc5", 16, 2, 0),
    b"BC5S": ("bc5", 16, 2, 0),
}
# DXGI_FORMAT ranges of block formats (dxgiformat.h).
_DXGI_BLOCKS = {
    **dict.fromkeys((70, 71, 72), ("bc1", 8, 4, 1)),
    **dict.fromkeys((73, 74, 75), ("bc2", 16, 4, 4)),
    **dict.fromkeys((76, 77, 78), ("bc3", 16, 4, 8)),
    **dict.fromkeys((79, 80, 81), ("bc4", 8, 1, 0)),
    **dict.fromkeys((82, 83, 84), ("bc5", 16, 2, 0)),
    **dict.fromkeys((94, 95, 96), ("bc6h", 16, 3, 0)),
    **dict.fromkeys((97, 98, 99), ("bc7", 16, 4, 8)),
}
# DXGI_FORMAT -> channels, bits per channel, alpha bits, sample kind.
_DXGI_PLAIN = {
    2: (4, 32, 32, "float"),
    6: (3, 32, 0, "float"),
    10: (4, 16, 16, "float"),
    11: (4, 16, 16, "uint"),
    16: (2, 32, 0, "float"),
    24: (4, 10, 2, "uint"),
    28: (4, 8, 8, "uint"),
    29: (4, 8, 8, "uint"),
    34: (2, 16, 0, "float"),
    35: (2, 16, 0, "uint"),
    41: (1, 32, 0, "float"),
    49: (2, 8, 0, "uint"),
    54: (1, 16, 0, "float"),
    56: (1, 16, 0, "uint"),
    61: (1, 8, 0, "uint"),
    87: (4, 8, 8, "uint"),
    88: (4, 8, 0, "uint"),
    91: (4, 8, 8, "uint"),
    93: (4, 8, 0, "uint"),
}
_SRGB = {29, 72, 75, 78, 91, 93, 99}


def read(file: Window, facts: Facts) -> None:
    """Fills `facts` and proves that every mip level, layer and face of a known layout fits in the file."""
    size, _, height, width, _, depth, mips = file.unpack("<7I", 4, "the DDS header")
    if size != 124:
        raise Wrong("damaged", f"the header states a length of {size} instead of 124")
    _, flags, code, bits, red, green, blue, alpha = file.unpack("<II4sIIIII", 76, "the DDS header")
    (second,) = file.unpack("<I", 112, "the DDS header")
    levels, start, copies = max(1, mips), 128, 6 if second & 0x200 else 1
    facts.update(width=width, height=height, mip_levels=levels)
    if width == 0 or height == 0:
        raise Wrong("damaged", f"the header states {width} x {height} pixels")
    if levels > 32:
        raise Wrong("damaged", f"the header states {levels} mip levels")
    block = 0
    if flags & 4 and code == b"DX10":
        number, _, misc, array, _ = file.unpack("<5I", 128, "the DX10 header")
        start, copies = 148, max(1, array) * (6 if misc & 4 else 1)
        facts["color_chunks"] = (("DXGI", f"{number}{' sRGB' if number in _SRGB else ''}"),)
        if number in _DXGI_BLOCKS:
            block = _block(facts, _DXGI_BLOCKS[number])
        elif number in _DXGI_PLAIN:
            channels, each, alpha_bits, sample = _DXGI_PLAIN[number]
            bits = 32 if number == 24 else channels * each
            facts.update(channels=channels, bits_per_channel=each, alpha_bits=alpha_bits, sample=sample)
            facts.update(bits_per_pixel=bits, compression="none", color_model="grey" if channels == 1 else "rgb")
        else:
            facts["compression"] = f"DXGI format {number}"
            return
    elif flags & 4:
        facts["color_chunks"] = (("fourCC", code.decode("latin-1").strip("\0")),)
        if code not in _BLOCKS:
            facts["compression"] = f"fourCC {code.decode('latin-1')}" if code.isalnum() else f"code {code.hex()}"
            return
        block = _block(facts, _BLOCKS[code])
    else:
        if not 0 < bits <= 128:
            raise Wrong("damaged", f"the header states {bits} bits per pixel")
        masks = [red] if flags & 0x20000 else [mask for mask in (red, green, blue) if mask]  # one channel of luminance
        alpha_bits = alpha.bit_count() if flags & 3 else 0
        widest = max((mask.bit_count() for mask in (*masks, alpha if alpha_bits else 0)), default=bits)
        facts.update(channels=max(1, bits // max(1, widest)), bits_per_channel=widest, alpha_bits=alpha_bits)
        facts.update(bits_per_pixel=bits, compression="none", color_model="rgb" if len(masks) > 1 else "grey")
    slices = max(1, depth) if second & 0x200000 else 1
    file.must_reach(start + copies * _chain(width, height, slices, levels, bits, block), f"{levels} mip levels")


def _block(facts: Facts, kind: tuple[str, int, int, int]) -> int:
    name, block, channels, alpha_bits = kind
    facts.update(compression=name, lossy=True, channels=channels, alpha_bits=alpha_bits, color_model="compressed")
    facts.update(bits_per_channel=16 if name == "bc6h" else 8, bits_per_pixel=block // 2)
    facts["sample"] = "float" if name == "bc6h" else "uint"
    return block


def _chain(width: int, height: int, slices: int, levels: int, bits: int, block: int) -> int:
    """Bytes of all mip levels of one layer. block: bytes of 4 x 4 texels, 0 for plain rows."""
    total = 0
    for level, (w, h) in enumerate(level_sizes(width, height, levels)):
        one = ((w + 3) // 4) * ((h + 3) // 4) * block if block else (w * bits + 7) // 8 * h
        total += one * max(1, slices >> level)
    return total


assert struct.calcsize("<II4sIIIII") == 32  # DDS_PIXELFORMAT
