"""The letters of findings, drawn: plates with a line to what they name, and the numbers of the islands."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray
from PIL import Image, ImageDraw

from tidegate.draw.canvas import Canvas
from tidegate.draw.fault_letters import may_hold, small_type
from tidegate.draw.inner_points import InnerPoints
from tidegate.draw.labels import Label, Room
from tidegate.draw.legend import draw_letter
from tidegate.draw.marks import Mark
from tidegate.draw.palette import FAINT_INK, INK, ISLAND, PAPER
from tidegate.draw.text import font, line_height, width_of
from tidegate.model.facts import Picture


def draw_letters(
    canvas: Canvas,
    picture: Picture,
    marks: Sequence[Mark],
    labels: Sequence[Label],
    owner: NDArray[np.int32],
    inner: InnerPoints,
    room: Room,
    size: int,
) -> Canvas:
    """The labels, a line from each that lies beside what it names, and the numbers of the islands."""
    colors = {mark.letter: mark.color for mark in marks}
    image = Image.fromarray(canvas)
    draw = ImageDraw.Draw(image)
    thin = max(1, round(size / 700))
    for label in labels:
        middle = ((label.box[0] + label.box[2]) / 2, (label.box[1] + label.box[3]) / 2)
        here = owner[int(label.anchor[1]), int(label.anchor[0])]
        if label.apart and (here < 0 or owner[int(middle[1]), int(middle[0])] != here):
            _lead(draw, label, thin)
    for label in labels:
        x0, y0, x1, y1 = label.box
        letters = [letter for line in label.lines for letter in line.split()]
        color = colors[letters[0]] if len(letters) == 1 else INK
        draw.rectangle((x0, y0, x1 - 1, y1 - 1), PAPER, color, max(2, round(size / 400)))
        below = line_height(label.size) if label.number else 0
        draw_letter(image, (x0, y0, x1, y1 - below), label.lines, label.size)
        if label.number:
            at = ((x0 + x1) / 2, y1 - label.size // 4 - below / 2)
            draw.text(at, label.number, FAINT_INK, font(label.size), anchor="mm")
    numbered = {label.row for label in labels if label.number}
    marked = {int(row) for mark in marks for row in mark.rows}
    _numbers(draw, [row for row in picture.islands.tolist() if row not in numbered], marked, inner, room, size)
    return np.asarray(image)


def _lead(draw: ImageDraw.ImageDraw, label: Label, thin: int) -> None:
    """A line from the border of a label to what it names, with a point at its end: it may pass over something else."""
    x, y = label.anchor
    start = (min(max(x, label.box[0]), label.box[2] - 1), min(max(y, label.box[1]), label.box[3] - 1))
    draw.line((start, label.anchor), PAPER, 3 * thin)
    draw.line((start, label.anchor), INK, thin)
    for reach, ink in ((3 * thin, PAPER), (2 * thin, INK)):
        draw.ellipse((x - reach, y - reach, x + reach, y + reach), ink)


def _numbers(
    draw: ImageDraw.ImageDraw, rows: Sequence[int], marked: set[int], inner: InnerPoints, room: Room, size: int
) -> None:
    """Numbers of the islands, where they fit without touching anything; on marked ones on a plate, over the hatch."""
    text = small_type(size)
    enough = may_hold(inner, min(width_of(digit, text) for digit in "123456789") + 4, line_height(text))
    for row in (row for row in rows if enough[row]):
        number = str(row + 1)
        wide, high = width_of(number, text) + 4, line_height(text)
        if inner.reach_x[row] * 2 < wide or inner.reach_y[row] * 2 < high:
            continue
        reach_x, reach_y = float(inner.reach_x[row]), float(inner.reach_y[row])
        for right, down in _AWAY:
            left = round(float(inner.x[row]) - wide / 2 + right * (reach_x - wide / 2))
            top = round(float(inner.y[row]) - high / 2 + down * (reach_y - high / 2))
            box = (left, top, left + wide, top + high)
            if room.free(box):
                room.take(box)
                low = (high - text) // 2  # digits are lower than their line, and the plate must not cut an outline
                plate = (left, top + low, left + wide - 1, top + high - 1 - low)
                draw.rectangle(plate, PAPER if row in marked else ISLAND)
                draw.text((left + wide / 2, top + high / 2), number, FAINT_INK, font(text), anchor="mm")
                break


_AWAY = (
    (0.0, 0.0),
    *((0.0, s * d) for d in (0.9, 0.7, 0.5, 0.3) for s in (1, -1)),
    *((s * d, 0.0) for d in (0.9, 0.7, 0.5, 0.3) for s in (1, -1)),
)
"""Places for a number on the cross that fits into its island, in parts of its arms; the middle first."""
