"""PNG header facts (W3C PNG Specification, Third Edition)."""

from __future__ import annotations

import struct
import zlib

from .exif import orientation
from .window import Facts, Window, Wrong

SIGNATURE = b"\x89PNG\r\n\x1a\n"
END = b"\x00\x00\x00\x00IEND\xae\x42\x60\x82"

# Colour type -> channels, colour model, allowed bit depths (11.2.1, table 8).
_COLOR_TYPES = {
    0: (1, "grey", (1, 2, 4, 8, 16)),
    2: (3, "rgb", (8, 16)),
    3: (1, "palette", (1, 2, 4, 8)),
    4: (2, "grey", (8, 16)),
    6: (4, "rgb", (8, 16)),
}
_INTENTS = {0: "perceptual", 1: "relative", 2: "saturation", 3: "absolute"}
_WANTED = {b"PLTE", b"tRNS", b"sRGB", b"gAMA", b"cHRM", b"iCCP", b"cICP", b"sBIT", b"mDCV", b"cLLI", b"eXIf", b"acTL"}
_LONGEST_READ = 1 << 20  # a colour profile longer than this is stepped over; its name is not worth the read


def read(file: Window, facts: Facts, *, whole: bool = True) -> None:
    """Fills `facts`. whole: also prove that the chunk chain reaches IEND; off for the first bytes of a longer file."""
    length, name = file.unpack(">I4s", 8, "the IHDR chunk")
    if name != b"IHDR" or length != 13:
        raise Wrong("damaged", "the first chunk is not an IHDR of 13 bytes")
    body = _body(file, 8, 13, b"IHDR")
    width, height, depth, color_type, compression, filtering, interlace = struct.unpack(">IIBBBBB", body)
    if color_type not in _COLOR_TYPES or depth not in _COLOR_TYPES[color_type][2]:
        raise Wrong("damaged", f"bit depth {depth} with colour type {color_type} does not exist in PNG")
    channels, model, _ = _COLOR_TYPES[color_type]
    facts.update(
        width=width,
        height=height,
        channels=channels,
        bits_per_channel=depth,
        bits_per_pixel=depth * channels,
        alpha_bits=depth if color_type in (4, 6) else 0,
        color_model=model,
        compression="deflate",
        interlaced=interlace == 1,
    )
    if not (0 < width < 1 << 31 and 0 < height < 1 << 31):
        raise Wrong("damaged", f"the header states {width} x {height} pixels")
    if compression or filtering or interlace > 1:
        raise Wrong("damaged", f"compression {compression}, filter {filtering}, interlace {interlace} is not defined")

    after = _read_until_pixels(file, facts)
    if color_type == 3 and not facts.get("palette"):
        raise Wrong("damaged", "colours come from a palette, but there is no PLTE chunk before the pixels")
    # A file that ends in IEND was written to its end, so its many IDAT chunks need no visit. Only a file with
    # something after IEND, or cut short, is walked.
    if whole and file.upto(file.size - 12, 12) != END:
        _walk_to_end(file, after)


def _body(file: Window, at: int, length: int, name: bytes) -> bytes:
    """Data of the chunk that starts at `at`, its CRC proven."""
    data = file.at(at + 8, length + 4, f"the {name.decode('ascii')} chunk")
    if zlib.crc32(data[:length], zlib.crc32(name)) != int.from_bytes(data[length:], "big"):
        raise Wrong("damaged", f"the checksum of the {name.decode('ascii')} chunk does not match its content")
    return data[:length]


def _next(file: Window, at: int) -> tuple[int, bytes]:
    """Length and name of the chunk that starts at `at`."""
    length, name = file.unpack(">I4s", at, "the next chunk")
    if length >= 1 << 31 or not name.isalpha():
        raise Wrong("damaged", f"at byte {at:,} there is no chunk, but other bytes")
    return length, name


def _read_until_pixels(file: Window, facts: Facts) -> int:
    """Reads the chunks before the first IDAT and returns where that one starts."""
    at = 8 + 12 + 13
    colors: list[tuple[str, str]] = []
    while True:
        length, name = _next(file, at)
        if name == b"IDAT":
            break
        if name == b"IEND":
            raise Wrong("damaged", "there is no IDAT chunk, so no picture")
        if name in _WANTED and length <= _LONGEST_READ:
            _note(facts, colors, name, _body(file, at, length, name))
            facts["color_chunks"] = tuple(colors)
        elif name.isalpha() and name[:1].isupper() and name not in _WANTED:
            raise Wrong("damaged", f"the critical chunk {name.decode('ascii')} is not defined by PNG")
        at += 12 + length
    return at


def _note(facts: Facts, colors: list[tuple[str, str]], name: bytes, data: bytes) -> None:
    text = name.decode("ascii")
    if name == b"PLTE":
        if not data or len(data) % 3 or len(data) > 768:
            raise Wrong("damaged", f"a palette of {len(data)} bytes is not defined")
        if facts["color_model"] == "palette":  # else only a suggestion for displays with few colours (11.2.2)
            facts["palette"] = len(data) // 3
    elif name == b"tRNS":
        if facts["color_model"] == "palette":
            facts["palette_alpha"] = True
        else:  # one colour counts as see-through: a mask of one bit (11.3.1.1)
            facts["alpha_bits"] = max(facts["alpha_bits"], 1)
            colors.append((text, " ".join(str(value) for value in _u16(data))))
    elif name == b"sRGB" and len(data) == 1:
        colors.append((text, _INTENTS.get(data[0], f"intent {data[0]}")))
    elif name == b"gAMA" and len(data) == 4:
        colors.append((text, str(int.from_bytes(data, "big"))))
    elif name == b"cHRM" and len(data) == 32:
        colors.append((text, ",".join(str(value) for value in struct.unpack(">8I", data))))
    elif name == b"iCCP":
        colors.append((text, data.split(b"\0", 1)[0][:79].decode("latin-1")))
    elif name in (b"cICP", b"sBIT"):
        colors.append((text, ",".join(str(value) for value in data)))
    elif name in (b"mDCV", b"cLLI"):
        colors.append((text, data.hex()))
    elif name == b"eXIf":
        facts["orientation"] = orientation(data)
    elif name == b"acTL" and len(data) == 8:
        facts["frames"] = max(1, int.from_bytes(data[:4], "big"))
    else:
        raise Wrong("damaged", f"a {text} chunk of {len(data)} bytes is not defined")


def _u16(data: bytes) -> tuple[int, ...]:
    return struct.unpack(f">{len(data) // 2}H", data[: len(data) // 2 * 2])


def _walk_to_end(file: Window, at: int) -> None:
    while at < file.size:
        length, name = _next(file, at)
        at += 12 + length
        file.must_reach(at, f"the {name.decode('ascii')} chunk")
        if name == b"IEND":
            return
    raise Wrong("truncated", f"the file ends at byte {file.size:,} without an IEND chunk")
