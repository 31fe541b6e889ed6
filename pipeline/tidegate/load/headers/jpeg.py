"""JPEG header facts (ITU-T T.81; JFIF: ITU-T T.871; Adobe marker: ITU-T T.872 6.5.3)."""

from __future__ import annotations

import re

from .exif import orientation
from .icc import described
from .window import Facts, Window, Wrong

SIGNATURE = b"\xff\xd8\xff"

_FRAMES = {0xC0, 0xC1, 0xC2, 0xC3, 0xC5, 0xC6, 0xC7, 0xC9, 0xCA, 0xCB, 0xCD, 0xCE, 0xCF}
_PROGRESSIVE = {0xC2, 0xC6, 0xCA, 0xCE}
_LOSSLESS = {0xC3, 0xC7, 0xCB, 0xCF}
_ALONE = {0x01, *range(0xD0, 0xD8)}  # markers without a length: TEM and the restart markers
_TRUE_MARKER = re.compile(rb"\xff[^\x00\x01\xd0-\xd7\xff]")
_BLOCK = 1 << 16


def read(file: Window, facts: Facts) -> None:
    """Fills `facts`. Walks the marker segments to the scan, then proves that the end marker is there."""
    at = 2
    colors: list[tuple[str, str]] = []
    transform = -1
    while True:
        marker, at = _marker(file, at)
        if marker in _ALONE:
            continue
        if marker == 0xD9:
            raise Wrong("damaged", "the end marker comes before any picture data")
        (length,) = file.unpack(">H", at, "the next segment")
        if length < 2:
            raise Wrong("damaged", f"the segment at byte {at:,} states a length of {length}")
        if marker in _FRAMES:
            _frame(facts, marker, file.at(at + 2, length - 2, "the frame header"))
        elif marker in (0xE0, 0xE1, 0xE2, 0xEE):
            found = _application(facts, colors, marker, file.at(at + 2, length - 2, "an application segment"))
            transform = found if found is not None else transform
            facts["color_chunks"] = tuple(colors)
        file.must_reach(at + length, "the next segment")
        at += length
        if marker == 0xDA:
            break
    if not facts.get("channels"):
        raise Wrong("damaged", "the scan comes before a frame header, so the size is not known")
    facts["color_model"] = _model(facts["channels"], transform)
    if facts["width"] == 0 or facts["height"] == 0:
        raise Wrong("damaged", f"the header states {facts['width']} x {facts['height']} pixels")
    if file.upto(file.size - 2, 2) != b"\xff\xd9":
        _scan_for_end(file, at)


def _marker(file: Window, at: int) -> tuple[int, int]:
    """The marker at `at` and the offset behind it. Fill bytes (B.1.1.2) are stepped over."""
    if file.at(at, 1, "the next marker") != b"\xff":
        raise Wrong("damaged", f"at byte {at:,} a marker should stand, but other bytes do")
    while (code := file.at(at + 1, 1, "the next marker")[0]) == 0xFF:
        at += 1
    return code, at + 2


def _frame(facts: Facts, marker: int, body: bytes) -> None:
    if len(body) < 6 or len(body) < 6 + 3 * body[5] or body[5] == 0:
        raise Wrong("damaged", "the frame header is shorter than its own component list")
    depth, channels = body[0], body[5]
    facts.update(
        width=int.from_bytes(body[3:5], "big"),
        height=int.from_bytes(body[1:3], "big"),
        channels=channels,
        bits_per_channel=depth,
        bits_per_pixel=depth * channels,
        compression="lossless jpeg" if marker in _LOSSLESS else "dct",
        lossy=marker not in _LOSSLESS,
        interlaced=marker in _PROGRESSIVE,
    )


def _application(facts: Facts, colors: list[tuple[str, str]], marker: int, body: bytes) -> int | None:
    """Notes what an application segment states; returns the Adobe colour transform where it is one."""
    if marker == 0xE0 and body.startswith(b"JFIF\0") and len(body) >= 7:
        colors.append(("JFIF", f"{body[5]}.{body[6]:02d}"))
    elif marker == 0xE1 and body.startswith(b"Exif\0\0"):
        facts["orientation"] = orientation(body[6:])
        colors.append(("Exif", f"orientation {facts['orientation']}"))
    elif marker == 0xE2 and body.startswith(b"ICC_PROFILE\0") and len(body) > 14:
        if body[12] == 1:  # a long profile is split over several segments; its description stands in the first
            colors.append(("ICC", described(body[14:])))
    elif marker == 0xEE and body.startswith(b"Adobe") and len(body) >= 12:
        colors.append(("Adobe", f"transform {body[11]}"))
        return body[11]
    return None


def _model(channels: int, transform: int) -> str:
    if channels == 1:
        return "grey"
    if channels == 4:
        return "cmyk"
    return "rgb" if transform == 0 else "ycbcr"


def _scan_for_end(file: Window, at: int) -> None:
    """Looks for the end marker behind the scan that starts at `at`; something may follow it in a whole file.

    Inside a scan 0xFF is always followed by 0 or a restart marker (B.1.1.5), so any other pair is a true marker.
    Only files that do not end in the end marker come here.
    """
    while at < file.size:
        block = file.upto(at, _BLOCK)
        found = _TRUE_MARKER.search(block)
        if found and block[found.end() - 1] == 0xD9:
            return
        if found:  # tables between the scans of a progressive picture, which may hold any bytes
            (length,) = file.unpack(">H", at + found.end(), "the next segment")
            at += found.end() + max(2, length)
        elif at + len(block) >= file.size:
            break
        else:  # a marker may be split between two blocks
            at += len(block) - (block[-1] == 0xFF)
    raise Wrong("truncated", f"the file ends at byte {file.size:,} without the end marker of JPEG")
