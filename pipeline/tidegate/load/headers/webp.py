"""WebP header facts (RFC 9649)."""

from __future__ import annotations

from .exif import orientation
from .icc import described
from .window import Facts, Window, Wrong

_MOST_CHUNKS = 10_000


def read(file: Window, facts: Facts) -> None:
    """Fills `facts`; the RIFF length must lie in the file."""
    _, length, _, first = file.unpack("<4sI4s4s", 0, "the RIFF header")
    facts.update(bits_per_channel=8, compression="vp8")
    end = length + 8
    at, frames = 12, 0
    for _ in range(_MOST_CHUNKS):
        if at + 8 > min(end, file.size):
            break
        name, size = file.unpack("<4sI", at, "the next chunk")
        if name == b"VP8X" and size >= 10:
            flags = file.at(at + 8, 10, "the VP8X chunk")
            facts["width"] = 1 + int.from_bytes(flags[4:7], "little")
            facts["height"] = 1 + int.from_bytes(flags[7:10], "little")
            _alpha(facts, bool(flags[0] & 0x10))
        elif name in (b"VP8 ", b"VP8L"):
            _bitstream(file, facts, at, extended=first == b"VP8X")
        elif name == b"ANMF" and size >= 24:
            frames += 1
            facts["frames"] = frames
            if frames == 1:
                _frame(file, facts, at + 8 + 16, at + 8 + size)
        elif name == b"ICCP" and size <= 1 << 20:
            facts["color_chunks"] = (("ICC", described(file.at(at + 8, size, "the ICCP chunk"))),)
        elif name == b"EXIF" and size <= 1 << 20:
            facts["orientation"] = orientation(file.at(at + 8, size, "the EXIF chunk").removeprefix(b"Exif\0\0"))
        at += 8 + size + size % 2
    file.must_reach(end, "its own stated length")
    if at > end + 1:
        raise Wrong("damaged", "a chunk reaches beyond the stated length of the file")
    if not facts.get("width"):
        raise Wrong("damaged", "there is no picture chunk in the file")


def _frame(file: Window, facts: Facts, at: int, end: int) -> None:
    """The first frame of an animation: its alpha chunk is passed over, its bitstream read."""
    while at + 8 <= end:
        name, size = file.unpack("<4sI", at, "the first frame")
        if name in (b"VP8 ", b"VP8L"):
            _bitstream(file, facts, at, extended=True)
            return
        at += 8 + size + size % 2


def _bitstream(file: Window, facts: Facts, at: int, *, extended: bool) -> None:
    if file.at(at, 4, "the picture chunk") == b"VP8 ":
        head = file.at(at + 8, 10, "the VP8 frame header")
        if head[0] & 1 or head[3:6] != b"\x9d\x01\x2a":
            raise Wrong("damaged", "the VP8 chunk does not begin with a key frame")
        width = int.from_bytes(head[6:8], "little") & 0x3FFF
        height = int.from_bytes(head[8:10], "little") & 0x3FFF
        facts.update(compression="vp8", lossy=True)
        alpha = False
    else:
        head = file.at(at + 8, 5, "the VP8L header")
        if head[0] != 0x2F:
            raise Wrong("damaged", "the VP8L chunk does not begin with its signature")
        bits = int.from_bytes(head[1:5], "little")
        width, height = 1 + (bits & 0x3FFF), 1 + (bits >> 14 & 0x3FFF)
        alpha = bool(bits >> 28 & 1)
        facts.update(compression="vp8l", lossy=False)
    if not extended:
        facts.update(width=width, height=height)
        _alpha(facts, alpha)
        if width == 0 or height == 0:
            raise Wrong("damaged", f"the header states {width} x {height} pixels")


def _alpha(facts: Facts, alpha: bool) -> None:
    channels = 4 if alpha else 3
    facts.update(channels=channels, bits_per_pixel=8 * channels, alpha_bits=8 if alpha else 0, color_model="rgb")
