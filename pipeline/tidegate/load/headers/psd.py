"""Header facts and layer records of layered PSD and PSB files (as published by the format's owner)."""

from __future__ import annotations

import struct
from typing import NamedTuple

from .icc import described
from .window import Facts, Window, Wrong

SIGNATURES = (b"8BPS\0\x01", b"8BPS\0\x02")

_MODELS = {
    # mode: colour model, channels of it
    0: ("grey", 1),  # bitmap
    1: ("grey", 1),
    2: ("palette", 1),
    3: ("rgb", 3),
    4: ("cmyk", 4),
    8: ("grey", 1),  # duotone, stored as grey
    9: ("lab", 3),
}
_COMPRESSIONS = {0: "none", 1: "rle", 2: "deflate", 3: "deflate"}
_MOST_LAYERS = 10_000
# Additional blocks whose length takes 8 bytes in PSB.
_LONG_IN_PSB = {b"LMsk", b"Lr16", b"Lr32", b"Layr", b"Mt16", b"Mt32", b"Mtrn", b"Alph", b"FMsk", b"lnk2", b"FEid"}
_LONG_IN_PSB |= {b"FXid", b"PxSD"}


class _Sections(NamedTuple):
    """Where things lie. large: PSB, whose lengths are wider."""

    large: bool
    layers_at: int
    layers_end: int
    pixels_at: int


class LayerRecord(NamedTuple):
    """One layer as stored, bottom first. group: "folder", "end of folder" or ""."""

    name: str
    visible: bool
    opacity: float
    group: str


def read(file: Window, facts: Facts) -> None:
    """Fills `facts`, walks the section lengths and proves that the merged picture's bytes lie in the file."""
    _, _, channels, height, width, depth, mode = file.unpack(">H6sHIIHH", 4, "the PSD header")
    model, wanted = _MODELS.get(mode, ("", 0))
    facts.update(
        width=width,
        height=height,
        channels=channels,
        bits_per_channel=depth,
        bits_per_pixel=depth * channels,
        color_model=model,
        sample="float" if depth == 32 else "uint",
    )
    if not 0 < channels <= 56 or depth not in (1, 8, 16, 32):
        raise Wrong("damaged", f"{channels} channels of {depth} bits do not exist in PSD")
    if width == 0 or height == 0:
        raise Wrong("damaged", f"the header states {width} x {height} pixels")
    if not model:
        raise Wrong("damaged", f"colour mode {mode} has no picture that can be looked at")
    if wanted > channels:
        raise Wrong("damaged", f"{channels} channels are too few for {model}")
    sections = _sections(file, facts)
    start = _layer_info(file, sections)
    if start:
        (count,) = file.unpack(">h", start, "the layer count")
        facts["layers"] = abs(count)
        # Negative: the first channel beyond the colours is the transparency of the merged picture.
        facts["alpha_bits"] = depth if count < 0 and channels > wanted else 0
    _pixels_inside(file, facts, sections)


def layer_records(file: Window) -> tuple[LayerRecord, ...]:
    """The layers in stored order, bottom first. Raises `Wrong` where the file breaks off."""
    sections = _sections(file, {})
    start = _layer_info(file, sections)
    if not start:
        return ()
    (count,) = file.unpack(">h", start, "the layer count")
    at = start + 2
    records = []
    for _ in range(min(abs(count), _MOST_LAYERS)):
        (channels,) = file.unpack(">H", at + 16, "a layer record")
        at += 18 + channels * (10 if sections.large else 6)
        _, _, opacity, _, flags, _, extra = file.unpack(">4s4sBBBBI", at, "a layer record")
        at += 16
        name, group = _name(file, at, at + extra, sections.large)
        records.append(LayerRecord(name, not flags & 2, opacity / 255, group))
        at += extra
    return tuple(records)


def _sections(file: Window, facts: Facts) -> _Sections:
    large = file.at(0, 6, "the PSD header")[5] == 2
    at = 26
    (length,) = file.unpack(">I", at, "the colour section")
    if facts.get("color_model") == "palette":
        facts["palette"] = length // 3
    at += 4 + length
    (length,) = file.unpack(">I", at, "the resource section")
    _resources(file, at + 4, at + 4 + length, facts)
    at += 4 + length
    (length,) = file.unpack(">Q" if large else ">I", at, "the layer section")
    at += 8 if large else 4
    return _Sections(large, at, at + length, at + length)


def _resources(file: Window, at: int, end: int, facts: Facts) -> None:
    """Colour profile (1039) and whether the merged picture is a real one (1057)."""
    file.must_reach(end, "the resource section")
    while at + 12 <= end:
        mark, number, name_length = file.unpack(">4sHB", at, "a resource")
        if not mark.startswith(b"8B"):
            if mark in (b"MeSa", b"AgHg", b"PHUT", b"DCSR"):
                pass
            else:
                raise Wrong("damaged", f"at byte {at:,} a resource should begin, but other bytes stand there")
        at += 6 + (1 + name_length + 1) // 2 * 2
        (length,) = file.unpack(">I", at, "a resource")
        at += 4
        if number == 1039 and length <= 1 << 22:
            facts["color_chunks"] = (("ICC", described(file.at(at, length, "the colour profile"))),)
        elif number == 1057 and length >= 5:
            facts["has_merged_picture"] = file.at(at + 4, 1, "a resource") != b"\0"
        at += length + length % 2


def _layer_info(file: Window, sections: _Sections) -> int:
    """Offset of the layer count; 0 when the file has no layers. Files of 16 and 32 bits keep them in a block behind."""
    file.must_reach(sections.layers_end, "the layer section")
    at, end = sections.layers_at, sections.layers_end
    wide = ">Q" if sections.large else ">I"
    step = struct.calcsize(wide)
    if end - at < step + 2:
        return 0
    (length,) = file.unpack(wide, at, "the layer section")
    if length:
        return at + step
    at += step
    if end - at < 4:
        return 0
    (mask_length,) = file.unpack(">I", at, "the layer section")
    at += 4 + mask_length
    while at + 12 <= end:
        mark, key = file.unpack(">4s4s", at, "a layer block")
        if mark not in (b"8BIM", b"8B64"):
            return 0
        wide_here = ">Q" if sections.large and key in _LONG_IN_PSB else ">I"
        (length,) = file.unpack(wide_here, at + 8, "a layer block")
        at += 8 + struct.calcsize(wide_here)
        if key in (b"Lr16", b"Lr32", b"Layr") and length >= 2:
            return int(at)
        at += (length + 3) // 4 * 4
    return 0


def _name(file: Window, at: int, end: int, large: bool) -> tuple[str, str]:
    """Name and group kind out of the extra data of a layer record."""
    file.must_reach(end, "a layer record")
    for what in ("a layer mask", "the blending ranges"):
        (length,) = file.unpack(">I", at, what)
        at += 4 + length
    length = file.at(at, 1, "a layer name")[0]
    name = file.at(at + 1, length, "a layer name").decode("mac_roman")
    at += (1 + length + 3) // 4 * 4
    group = ""
    while at + 12 <= end:
        mark, key = file.unpack(">4s4s", at, "a layer block")
        if mark not in (b"8BIM", b"8B64"):
            break
        wide = ">Q" if large and key in _LONG_IN_PSB else ">I"
        (length,) = file.unpack(wide, at + 8, "a layer block")
        at += 8 + struct.calcsize(wide)
        if key == b"luni" and length >= 4:
            (letters,) = file.unpack(">I", at, "a layer name")
            raw = file.at(at + 4, min(2 * letters, length - 4), "a layer name")
            name = raw.decode("utf-16-be", "replace").rstrip("\0")
        elif key in (b"lsct", b"lsdk") and length >= 4:
            (kind,) = file.unpack(">I", at, "a layer group")
            group = {1: "folder", 2: "folder", 3: "end of folder"}.get(kind, "")
        at += length + length % 2
    return name, group


def _pixels_inside(file: Window, facts: Facts, sections: _Sections) -> None:
    at = sections.pixels_at
    (scheme,) = file.unpack(">H", at, "the merged picture")
    if scheme not in _COMPRESSIONS:
        raise Wrong("damaged", f"compression {scheme} of the merged picture is not defined")
    facts["compression"] = _COMPRESSIONS[scheme]
    rows = facts["height"] * facts["channels"]
    if scheme == 0:
        row = (facts["width"] * facts["bits_per_channel"] + 7) // 8
        file.must_reach(at + 2 + rows * row, "the merged picture")
    elif scheme == 1:  # first the packed length of every row
        letter = "I" if sections.large else "H"
        size = struct.calcsize(f">{rows}{letter}")
        file.must_reach(at + 2 + size, "the row lengths of the merged picture")
        lengths = struct.unpack(f">{rows}{letter}", file.at(at + 2, size, "the row lengths of the merged picture"))
        file.must_reach(at + 2 + size + sum(lengths), "the merged picture")
