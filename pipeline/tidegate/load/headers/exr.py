"""OpenEXR header facts (OpenEXR File Layout, by the OpenEXR project)."""

from __future__ import annotations

import struct

from .window import Facts, Window, Wrong

SIGNATURE = b"\x76\x2f\x31\x01"

_COMPRESSIONS = {
    # code: name, rows in a chunk, lossy
    0: ("none", 1, False),
    1: ("rle", 1, False),
    2: ("deflate", 1, False),
    3: ("deflate", 16, False),
    4: ("wavelet", 32, False),
    5: ("pxr24", 16, True),
    6: ("b44", 32, True),
    7: ("b44a", 32, True),
    8: ("dwaa", 32, True),
    9: ("dwab", 256, True),
}
_PIXEL_TYPES = {0: ("uint", 32), 1: ("float", 16), 2: ("float", 32)}
_MOST_ATTRIBUTES = 1000


def read(file: Window, facts: Facts) -> None:
    """Fills `facts` from the first part; for plain scan-line files proves that every chunk lies in the file."""
    (version,) = file.unpack("<I", 4, "the EXR header")
    if version & 0xFF not in (1, 2):
        raise Wrong("damaged", f"file version {version & 0xFF} is not defined")
    attributes, at = _attributes(file)
    for wanted in ("channels", "compression", "dataWindow"):
        if wanted not in attributes:
            raise Wrong("damaged", f"the header lacks the attribute {wanted}")
    _channels(attributes["channels"], facts)
    code = attributes["compression"][0]
    if code not in _COMPRESSIONS:
        raise Wrong("damaged", f"compression {code} is not defined")
    name, rows, lossy = _COMPRESSIONS[code]
    left, top, right, bottom = struct.unpack("<4i", attributes["dataWindow"][:16])
    facts.update(width=right - left + 1, height=bottom - top + 1, compression=name, lossy=lossy, layers=0)
    if facts["width"] <= 0 or facts["height"] <= 0:
        raise Wrong("damaged", f"the header states {facts['width']} x {facts['height']} pixels")
    if "chromaticities" in attributes:
        values = struct.unpack("<8f", attributes["chromaticities"][:32])
        facts["color_chunks"] = (("chromaticities", ",".join(f"{value:.4g}" for value in values)),)
    if plain(file):
        _chunks_inside(file, at, -(-facts["height"] // rows))
    elif at >= file.size:
        raise Wrong("truncated", "the file ends with its header")


def plain(file: Window) -> bool:
    """One part of scan lines: neither tiled (bit 9), nor deep (bit 11), nor of several parts (bit 12)."""
    (version,) = file.unpack("<I", 4, "the EXR header")
    return not version & 0x1A00


def _attributes(file: Window) -> tuple[dict[str, bytes], int]:
    """Attributes of the first header, and the offset behind it."""
    found: dict[str, bytes] = {}
    at = 8
    for _ in range(_MOST_ATTRIBUTES):
        if file.at(at, 1, "the EXR header") == b"\0":
            return found, at + 1
        name, at = _word(file, at)
        _, at = _word(file, at)
        (length,) = file.unpack("<i", at, "the EXR header")
        if length < 0:
            raise Wrong("damaged", f"the attribute {name} states a length of {length}")
        file.must_reach(at + 4 + length, f"the attribute {name}")
        found[name] = file.upto(at + 4, min(length, 1 << 16))
        at += 4 + length
    raise Wrong("damaged", "the header does not end")


def _word(file: Window, at: int) -> tuple[str, int]:
    raw = file.upto(at, 256)
    end = raw.find(b"\0")
    if end < 0:
        file.at(at, 256, "the EXR header")
        raise Wrong("damaged", "a name in the header does not end")
    return raw[:end].decode("latin-1"), at + end + 1


def _channels(raw: bytes, facts: Facts) -> None:
    names, widths, kinds = [], [], []
    at = 0
    while at < len(raw) and raw[at]:
        end = raw.index(b"\0", at)
        (kind,) = struct.unpack_from("<i", raw, end + 1)
        if kind not in _PIXEL_TYPES:
            raise Wrong("damaged", f"pixel type {kind} is not defined")
        names.append(raw[at:end].decode("latin-1"))
        kinds.append(_PIXEL_TYPES[kind][0])
        widths.append(_PIXEL_TYPES[kind][1])
        at = end + 17
    if not names:
        raise Wrong("damaged", "the header names no channels")
    short = {name.rsplit(".", 1)[-1] for name in names}
    alpha = [width for name, width in zip(names, widths, strict=True) if name.rsplit(".", 1)[-1] == "A"]
    facts.update(
        channels=len(names),
        bits_per_channel=max(widths),
        bits_per_pixel=sum(widths),
        alpha_bits=alpha[0] if alpha else 0,
        sample="float" if "float" in kinds else "uint",
        color_model="rgb" if {"R", "G", "B"} <= short else "grey",
    )


def _chunks_inside(file: Window, at: int, chunks: int) -> None:
    """The chunk that lies furthest back in a plain scan-line file ends inside the file."""
    file.must_reach(at + 8 * chunks, "the table of chunk offsets")
    offsets = struct.unpack(f"<{chunks}Q", file.at(at, 8 * chunks, "the table of chunk offsets"))
    if min(offsets) == 0:
        raise Wrong("truncated", "the table of chunk offsets has empty places: the writer never finished")
    if min(offsets) < at:
        raise Wrong("damaged", "a chunk offset points into the header")
    last = max(offsets)
    (length,) = file.unpack("<i", last + 4, "the last chunk")
    if length < 0:
        raise Wrong("damaged", f"the last chunk states a length of {length}")
    file.must_reach(last + 8 + length, "the last chunk")
