"""Cut-outs of the maps themselves: the place of a finding, texel for texel, with a frame around it."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from PIL import Image, ImageDraw

from tidegate.draw.canvas import png_bytes
from tidegate.draw.map_panels import Panel, Pixels, beside_panels, place_panel, texel_panel, whole_panel, wire_panels
from tidegate.draw.marks import letter_of, style_of
from tidegate.draw.palette import FAINT_INK, INK, PAPER, Color
from tidegate.draw.text import line_height, width_of, wrapped, write
from tidegate.model.facts import Facts
from tidegate.model.finding import Finding
from tidegate.model.prop import Master, TextureMap
from tidegate.pixels.boxes import Box

MOST = 12
"""Cut-outs beside one report: of the findings that stand first."""
_ROOM = 12  # pixels around the picture
_TEXT = 13  # pixels of the type
_WORDS = 400  # pixels that the words above a panel may take at least

ReadMap = Callable[[TextureMap | Master], Pixels | None]
"""Pixels of a map, or of the flattened picture of a layered master, as (h, w, c), top row first; None where they cannot be
had."""


def cut_outs(facts: Facts, findings: Sequence[Finding], read: ReadMap) -> list[tuple[str, bytes]]:
    """(letter, PNG bytes) for the first findings that have something to show of a map, in their order. Each map is read
    once, and a master beside its map."""
    pictures: dict[str, TextureMap | Master] = {master.path: master for master in facts.prop.masters}
    pictures |= {texture.path: texture for texture in facts.prop.maps}
    wanted = [
        (number, finding)
        for number, finding in enumerate(findings)
        if finding.place.map in pictures
        and (finding.place.pixel_box is not None or finding.shown.over or finding.shown.master)
    ][:MOST]
    drawn: dict[int, bytes] = {}
    for path in sorted({finding.place.map for _, finding in wanted}):
        image = read(pictures[path])
        for number, finding in wanted:
            if image is not None and finding.place.map == path:
                panels = _panels(facts, finding, image, pictures, read, style_of(number)[0])
                if panels:
                    drawn[number] = png_bytes(_sheet(number, finding, panels))
        del image  # one map is held at a time
    return [(letter_of(number, finding), drawn[number]) for number, finding in wanted if number in drawn]


def _panels(
    facts: Facts,
    finding: Finding,
    image: Pixels,
    pictures: dict[str, TextureMap | Master],
    read: ReadMap,
    color: Color,
) -> list[Panel]:
    """What is shown for one finding; nothing where its place lies beside the map."""
    shown, (height, width) = finding.shown, image.shape[:2]
    x0, y0, x1, y1 = finding.place.pixel_box or (0, 0, width, height)
    place: Box = (max(x0, 0), max(y0, 0), min(x1, width), min(y1, height))
    if place[0] >= place[2] or place[1] >= place[3]:
        return []
    if shown.over:
        return (
            wire_panels(facts, finding, image, color)
            if shown.over == "wire"
            else [whole_panel(facts, finding, image, color)]
        )
    if shown.master and shown.master != finding.place.map:
        merged = read(pictures[shown.master]) if shown.master in pictures else None
        if merged is not None:
            return beside_panels(image, merged, place, shown.master)
    if shown.texel is not None and 0 <= shown.texel[0] < width and 0 <= shown.texel[1] < height:
        return [texel_panel(facts, finding, image, shown.texel)]
    return [place_panel(facts, finding, image, place)]


def _sheet(number: int, finding: Finding, panels: Sequence[Panel]) -> Image.Image:
    """The panels side by side below the letter and the map's name, each under what it shows."""
    line = line_height(_TEXT)
    wide = [max(panel.picture.shape[1], _WORDS) for panel in panels]
    across = sum(wide) + 2 * _ROOM * (len(panels) - 1)
    letter = letter_of(number, finding)
    indent = width_of(letter, _TEXT, bold=True) + _TEXT // 2
    title = wrapped(finding.place.map, _TEXT, across - indent, bold=True)
    told = [
        [*wrapped(panel.heading, _TEXT, room), *wrapped(panel.told, _TEXT, room)]
        for panel, room in zip(panels, wide, strict=True)
    ]
    head = (len(title) + max(map(len, told))) * line + _ROOM
    high = max(panel.picture.shape[0] for panel in panels)
    sheet = Image.new("RGB", (across + 2 * _ROOM, high + head + 2 * _ROOM), PAPER)
    pen = ImageDraw.Draw(sheet)
    write(pen, (_ROOM, _ROOM), letter, INK, _TEXT, bold=True)
    for down, text in enumerate(title):
        write(pen, (_ROOM + indent, _ROOM + down * line), text, INK, _TEXT, bold=True)
    x = _ROOM
    for panel, lines, room in zip(panels, told, wide, strict=True):
        for down, text in enumerate(lines, start=len(title)):
            write(pen, (x, _ROOM + down * line), text, FAINT_INK, _TEXT)
        y = _ROOM + head
        sheet.paste(Image.fromarray(panel.picture), (x, y))
        if panel.frame is not None:
            x0, y0, x1, y1 = panel.frame
            _frame(pen, (x + x0, y + y0, x + x1, y + y1), style_of(number)[0])
        x += room + 2 * _ROOM
    return sheet


def _frame(pen: ImageDraw.ImageDraw, box: Box, color: Color) -> None:
    """A frame just outside the box, between two light lines and two dark ones, so that it stands out on any paint."""
    x0, y0, x1, y1 = box
    for out, ink in ((5, INK), (4, PAPER), (3, color), (2, color), (1, PAPER)):
        pen.rectangle((x0 - out, y0 - out, x1 + out - 1, y1 + out - 1), outline=ink)
