"""The legend of a fault sheet: every letter with its sign, its finding and what to do, in columns that fill up."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

from PIL import Image, ImageDraw

from tidegate.draw.hatch import hatch
from tidegate.draw.labels import Box
from tidegate.draw.palette import FAINT_INK, INK, PAPER, Color
from tidegate.draw.text import line_height, width_of, wrapped, write
from tidegate.model.finding import Finding

DASHES: dict[str, tuple[int, int]] = {"error": (1, 0), "warning": (3, 2), "note": (1, 2)}
"""Outline of a level: drawn and left out, in line widths times two. Errors are drawn through."""


NOT_DRAWABLE = "not drawable: no place on the layout"
"""Told of faces that lie on no layout."""


class Entry(NamedTuple):
    """One finding of the legend. color and hatch are those on the layout; marked: it is drawn there."""

    letter: str
    finding: Finding
    color: Color
    hatch: str
    marked: bool


class Line(NamedTuple):
    """A line of text, from the left of the entry: indent in pixels, ink, size."""

    text: str
    indent: int
    ink: Color
    size: int
    bold: bool = False


class Block(NamedTuple):
    """An entry or a heading, laid out: its lines and the room it takes."""

    entry: Entry | None
    lines: tuple[Line, ...]
    height: int


class Column(NamedTuple):
    """Room for blocks: upper left corner and height in pixels, None for as much as is needed."""

    x: int
    y: int
    height: int | None


def swatch_size(size: int) -> tuple[int, int]:
    """Width and height in pixels of the sign before an entry."""
    return round(size * 2.6), round(size * 1.7)


def blocks(headed: Sequence[tuple[str, Sequence[Entry]]], size: int, width: int) -> list[Block]:
    """Headings and entries at a type size, at most `width` pixels wide. A heading without entries is left out."""
    laid: list[Block] = []
    for heading, entries in headed:
        if not entries:
            continue
        if heading:
            lines = tuple(Line(text, 0, FAINT_INK, size) for text in wrapped(heading, size, width))
            laid.append(Block(None, lines, len(lines) * line_height(size) + size // 2))
        laid.extend(_entry(entry, size, width) for entry in entries)
    return laid


def _entry(entry: Entry, size: int, width: int) -> Block:
    indent = swatch_size(size)[0] + size // 2
    finding = entry.finding
    head = f"{finding.level} {finding.check}".strip()
    if finding.cause:
        head += f" (follows from {finding.cause})"
    lines = [Line(text, indent, INK, size, bold=True) for text in wrapped(head, size, width - indent, bold=True)]
    lines += [Line(text, indent, INK, size) for text in wrapped(finding.message, size, width - indent)]
    if not entry.marked and finding.place.mesh and finding.place.uv_layer is not None and not finding.place.islands:
        lines.append(Line(NOT_DRAWABLE, indent, FAINT_INK, size))
    if finding.help:
        help_lines = wrapped(f"help: {finding.help}", size, width - indent)
        lines += [Line(text, indent, FAINT_INK, size) for text in help_lines]
    height = max(len(lines) * line_height(size), swatch_size(size)[1]) + round(size * 0.9)
    return Block(entry, tuple(lines), height)


def flow(laid: Sequence[Block], columns: Sequence[Column]) -> list[tuple[int, int, Block]]:
    """Upper left corner of every block: columns in their order, each filled before the next, a heading never without what it
    heads. The last must be open."""
    placed: list[tuple[int, int, Block]] = []
    number, y = 0, columns[0].y
    for block, following in zip(laid, [*laid[1:], None], strict=True):
        needed = block.height + (following.height if block.entry is None and following is not None else 0)
        while number < len(columns) - 1:
            end = columns[number].height
            if end is None or y + needed <= columns[number].y + end:
                break
            number += 1
            y = columns[number].y
        placed.append((columns[number].x, y, block))
        y += block.height
    return placed


def draw_block(picture: Image.Image, x: int, y: int, block: Block, size: int) -> None:
    """One block at its place."""
    draw = ImageDraw.Draw(picture)
    if block.entry is not None:
        draw_swatch(picture, (x, y, x + swatch_size(size)[0], y + swatch_size(size)[1]), block.entry, size)
    down = y
    for line in block.lines:
        write(draw, (x + line.indent, down), line.text, line.ink, line.size, bold=line.bold)
        down += line_height(line.size)


def draw_swatch(picture: Image.Image, box: Box, entry: Entry, size: int) -> None:
    """The sign of a finding: its hatch and outline as on the layout, with the letter on it."""
    x0, y0, x1, y1 = box
    wide, high = x1 - x0, y1 - y0
    patch = Image.new("RGB", (wide, high), PAPER)
    if entry.marked:
        thick = max(1, size // 8)
        pattern = hatch(entry.hatch, wide, high, max(5, size // 2), thick)
        patch.paste(Image.new("RGB", (wide, high), entry.color), (0, 0), Image.fromarray(pattern))
        dashed_box(patch, (0, 0, wide, high), entry.color, max(2, size // 6), entry.finding.level)
    picture.paste(patch, (x0, y0))
    draw_letter(picture, box, (entry.letter,), size)


def draw_letter(picture: Image.Image, box: Box, lines: Sequence[str], size: int) -> None:
    """Letters in the middle of a box, on a plate of paper that is just large enough."""
    draw = ImageDraw.Draw(picture)
    wide = max(width_of(line, size, bold=True) for line in lines)
    high = line_height(size) * len(lines)
    left, top = (box[0] + box[2] - wide) // 2, (box[1] + box[3] - high) // 2
    draw.rectangle((left - 2, top, left + wide + 1, top + high - 1), PAPER)
    for number, line in enumerate(lines):
        x = (box[0] + box[2] - width_of(line, size, bold=True)) // 2
        y = top + number * line_height(size) + line_height(size) // 2
        write(draw, (x, y), line, INK, size, anchor="lm", bold=True)


def dashed_box(picture: Image.Image, box: Box, color: Color, thick: int, level: str) -> None:
    """A frame inside a box, drawn through, dashed or dotted by level."""
    on, off = DASHES.get(level, (1, 0))
    draw = ImageDraw.Draw(picture)
    x0, y0, x1, y1 = box
    stride = (on + off) * 2 * thick if off else max(x1 - x0, y1 - y0)
    length = on * 2 * thick if off else stride
    for x in range(x0, x1, stride):
        end = min(x + length, x1) - 1
        draw.rectangle((x, y0, end, y0 + thick - 1), color)
        draw.rectangle((x, y1 - thick, end, y1 - 1), color)
    for y in range(y0, y1, stride):
        end = min(y + length, y1) - 1
        draw.rectangle((x0, y, x0 + thick - 1, end), color)
        draw.rectangle((x1 - thick, y, x1 - 1, end), color)
