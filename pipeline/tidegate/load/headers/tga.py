"""TGA header facts (Truevision TGA File Format Specification, version 2.0). TGA has no signature of its own."""

from __future__ import annotations

import struct

from .window import Facts, Window, Wrong

FOOTER = b"TRUEVISION-XFILE.\0"
_ORIGINS = {0: "bottom-left", 1: "bottom-right", 2: "top-left", 3: "top-right"}  # descriptor bits 5 and 4
_DEPTHS = {1: (8, 16), 2: (15, 16, 24, 32), 3: (8, 16)}  # image type without the run-length bit
_ENTRY_BITS = (15, 16, 24, 32)


def has_footer(file: Window) -> bool:
    """The file ends in the footer of TGA 2.0, so it was written to its end."""
    return file.size >= 44 and file.upto(file.size - 18, 18) == FOOTER


def pixels_start(head: bytes) -> int:
    """Offset of the first pixel byte. head: the first 18 bytes."""
    entries, entry_bits = struct.unpack_from("<HB", head, 5)
    return int(18 + head[0] + (entries * ((entry_bits + 7) // 8) if head[1] else 0))


def plausible(head: bytes) -> str:
    """Why these 18 bytes cannot be a TGA header; "" when they can."""
    color_map, kind = head[1], head[2]
    _, _, entry_bits, _, _, width, height, depth, descriptor = struct.unpack("<HHBHHHHBB", head[3:18])
    base = kind & ~8
    if color_map > 1 or kind not in (1, 2, 3, 9, 10, 11):
        return f"colour-map type {color_map} and image type {kind} are not defined by TGA"
    if depth not in _DEPTHS[base]:
        return f"{depth} bits per pixel do not exist for image type {kind}"
    if base == 1 and (color_map == 0 or entry_bits not in _ENTRY_BITS):
        return "a picture with a colour map needs one with 15, 16, 24 or 32 bits an entry"
    if color_map == 1 and entry_bits not in _ENTRY_BITS:
        return f"a colour map of {entry_bits} bits an entry does not exist"
    if width == 0 or height == 0:
        return f"the header states {width} x {height} pixels"
    if descriptor & 0xC0:
        return "bits 7 and 6 of the descriptor must be zero"
    return ""


def exact_size(file: Window) -> bool:
    """The length is to the byte what a plausible uncompressed header asks for: good evidence without a signature."""
    head = file.upto(0, 18)
    if len(head) < 18 or plausible(head) or head[2] & 8:
        return False
    width, height, depth = struct.unpack_from("<HHB", head, 12)
    return bool(file.size == pixels_start(head) + width * height * ((depth + 7) // 8))


def read(file: Window, facts: Facts) -> None:
    """Fills `facts`. Uncompressed pixels must fit in the file; run-length packets show their end only on decoding."""
    head = file.at(0, 18, "the TGA header")
    why = plausible(head)
    if why:
        raise Wrong("damaged", why)
    kind, descriptor = head[2], head[17]
    entries, entry_bits = struct.unpack_from("<HB", head, 5)
    width, height, depth = struct.unpack_from("<HHB", head, 12)
    base, packed = kind & ~8, bool(kind & 8)
    attribute_bits = descriptor & 15
    facts.update(
        width=width,
        height=height,
        bits_per_pixel=depth,
        compression="rle" if packed else "none",
        origin=_ORIGINS[descriptor >> 4 & 3],
    )
    if base == 1:
        facts.update(color_model="palette", channels=1, bits_per_channel=depth, palette=entries)
        facts["palette_alpha"] = entry_bits == 32
    elif base == 3:
        facts.update(color_model="grey", channels=depth // 8, bits_per_channel=8, alpha_bits=8 if depth == 16 else 0)
    elif depth in (15, 16):
        alpha = min(attribute_bits, depth - 15)
        facts.update(color_model="rgb", channels=3 + alpha, bits_per_channel=5, alpha_bits=alpha)
    else:
        alpha = min(attribute_bits, depth - 24)
        facts.update(color_model="rgb", channels=depth // 8, bits_per_channel=8, alpha_bits=alpha)

    start, texel = pixels_start(head), (depth + 7) // 8
    if packed:  # no packet says more than 128 pixels, so fewer bytes than this cannot be enough
        rows = -(-width * height // 128) * (1 + texel)
        file.must_reach(start + rows, "even the tightest packing of the pixels")
    else:
        file.must_reach(start + width * height * texel, f"{width} x {height} pixels of {depth} bits")
    if has_footer(file):
        _extension(file, facts)


def _extension(file: Window, facts: Facts) -> None:
    """Gamma and kind of alpha out of the extension area, where the footer points to one."""
    (offset,) = file.unpack("<I", file.size - 26, "the footer")
    area = file.upto(offset, 495) if offset else b""
    if len(area) < 495 or int.from_bytes(area[:2], "little") < 495:
        return
    above, below = struct.unpack_from("<HH", area, 478)
    stated = []
    if below:
        stated.append(("gamma", f"{above / below:g}"))
    if facts["alpha_bits"]:
        kinds = {0: "none", 1: "undefined", 2: "undefined, kept", 3: "straight", 4: "premultiplied"}
        if area[494] in kinds:
            stated.append(("alpha", kinds[area[494]]))
        if area[494] == 0:  # "no alpha data included", whatever the descriptor says
            facts["alpha_bits"] = 0
            if facts["bits_per_channel"] == 5:  # the one bit is no channel then, while a whole byte still is stored
                facts["channels"] = 3
    facts["color_chunks"] = tuple(stated)
