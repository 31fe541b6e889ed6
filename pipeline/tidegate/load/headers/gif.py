"""GIF header facts (Graphics Interchange Format, version 89a)."""

from __future__ import annotations

from .window import Facts, Window, Wrong

SIGNATURES = (b"GIF87a", b"GIF89a")


def read(file: Window, facts: Facts) -> None:
    """Fills `facts` and walks the blocks to the trailer."""
    width, height, packed, _, _ = file.unpack("<HHBBB", 6, "the screen descriptor")
    colors = 2 << (packed & 7) if packed & 0x80 else 0
    facts.update(
        width=width,
        height=height,
        bits_per_pixel=(packed & 7) + 1,
        bits_per_channel=(packed & 7) + 1,
        channels=1,
        color_model="palette",
        palette=colors,
        compression="lzw",
    )
    if width == 0 or height == 0:
        raise Wrong("damaged", f"the header states {width} x {height} pixels")
    at, frames = 13 + 3 * colors, 0
    while (kind := file.at(at, 1, "the next block")[0]) != 0x3B:
        if kind == 0x21:
            if file.at(at + 1, 1, "an extension")[0] == 0xF9 and file.at(at + 3, 1, "a control extension")[0] & 1:
                facts["palette_alpha"] = True
            at = _blocks(file, at + 2)
        elif kind == 0x2C:
            flags = file.at(at + 9, 1, "an image descriptor")[0]
            local = 2 << (flags & 7) if flags & 0x80 else 0
            if not frames:
                facts["interlaced"] = bool(flags & 0x40)
                facts["palette"] = local or colors
            at = _blocks(file, at + 10 + 3 * local + 1)
            frames += 1
            facts["frames"] = frames
        else:
            raise Wrong("damaged", f"at byte {at:,} a block should begin, but other bytes stand there")
    if not frames:
        raise Wrong("damaged", "there is no picture in the file")


def _blocks(file: Window, at: int) -> int:
    """Offset behind a chain of sub-blocks."""
    while length := file.at(at, 1, "the next sub-block")[0]:
        at += 1 + length
    return at + 1
