"""Fault sheets: the layout in a neutral fill, each finding marked on it by letter, hatch and outline, and a legend."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

from PIL import Image, ImageDraw

from tidegate.draw.canvas import Canvas
from tidegate.draw.fault_layout import draw_layout
from tidegate.draw.legend import Block, Column, Entry, blocks, draw_block, flow
from tidegate.draw.marks import Mark, letter_of, marks_on, style_of
from tidegate.draw.palette import FAINT_INK, INK, PAPER
from tidegate.draw.text import line_height, shortened, write
from tidegate.model.facts import Facts, Picture
from tidegate.model.finding import Finding
from tidegate.model.picture_places import PixelBox
from tidegate.model.selection import picture_name
from tidegate.model.view import FAULT_SHEET_PX, header_height, layout_view, margin, type_size
from tidegate.model.wording import count

ELSEWHERE = "Not on a layout"


class FaultSheet(NamedTuple):
    """A drawn sheet. places: pixel box of each letter on it, and of the whole layout under the letter ""."""

    picture: Image.Image
    places: dict[str, PixelBox]


def fault_sheets(facts: Facts, findings: Sequence[Finding], size: int = FAULT_SHEET_PX) -> list[FaultSheet]:
    """A sheet for every picture of the prop that a finding lies on, the layout at most `size` pixels a side.

    Findings that lie on no picture stand in the legend of the first sheet; where all do, there is the legend alone. Without
    findings there is no sheet.
    """
    if not findings:
        return []
    pages: list[tuple[Picture | None, list[Mark]]] = [
        (picture, marks) for picture in model_first(facts.pictures) if (marks := marks_on(facts, picture, findings))
    ]
    if not pages:
        pages = [(None, [])]
    drawn = {mark.letter for _, marks in pages for mark in marks}
    elsewhere = [
        Entry(letter_of(number, finding), finding, *style_of(number), marked=False)
        for number, finding in enumerate(findings)
        if letter_of(number, finding) not in drawn
    ]
    return [
        _sheet(facts, picture, marks, elsewhere if number == 0 else [], size)
        for number, (picture, marks) in enumerate(pages)
    ]


def _sheet(
    facts: Facts, picture: Picture | None, marks: Sequence[Mark], elsewhere: Sequence[Entry], size: int
) -> FaultSheet:
    marked = draw_layout(facts, picture, marks, size) if picture is not None else None
    layout, places = (marked.canvas, marked.places) if marked is not None else (None, {})
    here, elsewhere = _causes_first(
        [Entry(m.letter, m.finding, m.color, m.hatch, marked=True) for m in marks], elsewhere
    )
    laid, width, height = _arranged([("", here), (ELSEWHERE if here else "", elsewhere)], layout, size)
    sheet = Image.new("RGB", (width, height), PAPER)
    if layout is not None and picture is not None:
        view = layout_view(facts, picture, size)
        sheet.paste(Image.fromarray(layout), (view.left, view.top))
        places = {letter: _moved(box, view.left, view.top) for letter, box in places.items()}
        places[""] = (view.left, view.top, view.left + view.width, view.top + view.height)
    told = f"{count(len(marks), 'finding')} here"
    if marked is not None and marked.unlettered:
        told += f" - {count(marked.unlettered, 'island')} too small for letters, told by hatch and color"
    if marked is not None and marked.signs:
        told += f" - {marked.signs}"
    header(sheet, facts, picture, size, told)
    for x, y, block in laid:
        draw_block(sheet, x, y, block, type_size(size))
    return FaultSheet(sheet, places)


def _causes_first(here: Sequence[Entry], elsewhere: Sequence[Entry]) -> tuple[list[Entry], list[Entry]]:
    """What stands in the legend first, and what under a heading of its own: a finding without a place stands before the first
    one here that follows from it."""
    ordered: list[Entry] = []
    rest = list(elsewhere)
    for entry in here:
        ordered += [one for one in rest if one.finding.check == entry.finding.cause]
        rest = [one for one in rest if one.finding.check != entry.finding.cause]
        ordered.append(entry)
    return ordered, rest


def _moved(box: PixelBox, right: int, down: int) -> PixelBox:
    return box[0] + right, box[1] + down, box[2] + right, box[3] + down


def _arranged(
    headed: Sequence[tuple[str, Sequence[Entry]]], layout: Canvas | None, size: int
) -> tuple[list[tuple[int, int, Block]], int, int]:
    """Blocks of the legend with their places, and the size of the sheet: one column beside the layout, and as many as fit
    below it for the rest."""
    text, edge, top = type_size(size), margin(size), header_height(size)
    column = round(31 * text)
    wide, high = (layout.shape[1], layout.shape[0]) if layout is not None else (0, 0)
    beside = Column(2 * edge + wide if wide else edge, top, high or None)
    width = beside.x + column + edge
    laid = blocks(headed, text, column)
    columns = [beside]
    if layout is not None:
        fitting = max(1, (width - edge) // (column + edge))
        below = _shortest([b.height for b in laid], fitting, high)
        start = top + high + edge
        columns += [Column(edge + k * (column + edge), start, below) for k in range(fitting - 1)]
        columns.append(Column(edge + (fitting - 1) * (column + edge), start, None))
    placed = flow(laid, columns)
    bottom = max([top + high, *(y + block.height for _, y, block in placed)])
    return placed, width, bottom + edge


def _shortest(heights: Sequence[int], columns: int, beside: int) -> int:
    """Height of the columns below at which the last one is no longer than the others."""
    rest = list(heights)
    room = beside
    while rest and rest[0] <= room:
        room -= rest.pop(0)
    if not rest:
        return 0
    height = max(max(rest), -(-sum(rest) // columns))
    while _columns_for(rest, height) > columns:
        height += max(8, height // 50)
    return height


def _columns_for(heights: Sequence[int], height: int) -> int:
    used, filled = 1, 0
    for one in heights:
        if filled + one > height:
            used, filled = used + 1, 0
        filled += one
    return used


def header(sheet: Image.Image, facts: Facts, picture: Picture | None, size: int, what: str) -> None:
    """The prop's name, and a line with the picture and what is shown of it, above the layout."""
    text, edge = type_size(size), margin(size)
    draw = ImageDraw.Draw(sheet)
    room = sheet.width - 2 * edge
    title = shortened(facts.prop.name, round(text * 1.5), room, bold=True)
    write(draw, (edge, edge), title, INK, round(text * 1.5), bold=True)
    told = "no UV layout to draw"
    if picture is not None:
        told = f"{about(picture)} - {what}"
    elif facts.pictures:
        told = "no finding has a place on a layout"
    write(draw, (edge, edge + line_height(round(text * 1.5))), shortened(told, text, room), FAINT_INK, text)


def model_first(pictures: Sequence[Picture]) -> list[Picture]:
    """The pictures of the model before those of its levels of detail and of collision."""
    return sorted(pictures, key=lambda picture: picture.role != "model")


def about(picture: Picture) -> str:
    """What a picture shows, in a line."""
    parts = [picture_name(picture)]
    if not picture.assumed:
        parts.append(f"{picture.width} x {picture.height} texels")
    parts.append(count(len(picture.islands), "island"))
    return " - ".join(parts)
