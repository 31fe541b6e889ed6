"""The layout of a fault sheet: neutral islands, and on them the marks of findings."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray
from PIL import Image, ImageDraw

from tidegate.draw.canvas import Canvas, blank, blend, fill
from tidegate.draw.dashes import dashed
from tidegate.draw.edges import Edges, edges_of
from tidegate.draw.hatch import hatch
from tidegate.draw.inner_points import InnerPoints, inner_points
from tidegate.draw.labels import Box, Label, Room
from tidegate.draw.legend import DASHES, draw_letter
from tidegate.draw.lines import line_coverage
from tidegate.draw.marker import marker, mirror_sign
from tidegate.draw.marks import Mark
from tidegate.draw.palette import (
    FAINT_INK,
    INK,
    INNER_EDGE,
    ISLAND,
    OUTLINE,
    OUTSIDE,
    PAPER,
    TILE_EDGE,
)
from tidegate.draw.placed import Placed, place
from tidegate.draw.text import font, line_height, width_of
from tidegate.draw.tile_frame import draw_tile, frame, tile_border
from tidegate.geometry.raster import coverage, owners
from tidegate.model.facts import Facts, Picture
from tidegate.model.picture_places import PixelBox
from tidegate.model.view import View, layout_view, type_size

MOST_LETTERS = 12  # places of one finding that get its letter; the hatch shows the others
MOST_HATCHES = 2  # findings whose hatches are drawn over one another on an island
LETTERS_A_LINE = 5

ViewBox = tuple[float, float, float, float]


def draw_layout(facts: Facts, picture: Picture, marks: Sequence[Mark], size: int) -> tuple[Canvas, dict[str, PixelBox]]:
    """(height, width, 3) of the layout with its marks, as large as its view, and the box of each letter on it."""
    view = layout_view(facts, picture, size)
    placed = place(facts, picture, view)
    edges = edges_of(placed)
    thin = max(1.0, size / 1024)
    canvas = blank(view.width, view.height, OUTSIDE)
    draw_tile(canvas, view)
    owner = owners(placed.pixels, placed.row, view.width, view.height)
    fill(canvas, owner >= 0, ISLAND)
    blend(canvas, line_coverage(edges.inner, thin, view.width, view.height), INNER_EDGE)
    blend(canvas, line_coverage(edges.outline, 1.3 * thin, view.width, view.height), OUTLINE)
    blend(canvas, line_coverage(tile_border(view), 1.5 * thin, view.width, view.height), TILE_EDGE)
    _hatches(canvas, placed, marks, size)
    for mark in reversed(marks):
        _outline(canvas, edges, view, mark, size)
    inner = _inner(owner, placed, len(facts.islands) if facts.islands is not None else 0)
    boxes = _island_boxes(placed, inner)
    room = Room(view.width, view.height, _signs(canvas, facts, marks, inner, thin))
    spots = _spots(view, marks, boxes, size)
    for mark, box in spots:
        blend(canvas, line_coverage(_ring(box, size), 3.0 * thin, view.width, view.height), mark.color)
    labels = place_letters(view, marks, spots, inner, boxes, room, size)
    drawn = _lettered(canvas, picture, marks, labels, owner, inner, room, size)
    return drawn, _places(view, marks, boxes, spots, size)


def _places(
    view: View,
    marks: Sequence[Mark],
    boxes: NDArray[np.float64],
    spots: Sequence[tuple[Mark, ViewBox]],
    size: int,
) -> dict[str, PixelBox]:
    """The box about everything that is marked with a letter, cut off at the border of the layout."""
    found: dict[str, PixelBox] = {}
    for mark in marks:
        places = [] if mark.points else [tuple(boxes[row].tolist()) for row in mark.rows]
        places += [_local(view, box) for box in mark.boxes]
        for spot, box in spots:
            if spot is mark:
                ring = _ring(box, size)
                places.append((ring[0].min(), ring[1].min(), ring[0].max(), ring[1].max()))
        edges = np.array(places)
        x0, y0 = np.clip(np.floor(edges[:, :2].min(axis=0)), 0, (view.width - 1, view.height - 1))
        x1, y1 = np.clip(np.ceil(edges[:, 2:].max(axis=0)), (x0 + 1, y0 + 1), (view.width, view.height))
        found[mark.letter] = (int(x0), int(y0), int(x1), int(y1))
    return found


def _hatches(canvas: Canvas, placed: Placed, marks: Sequence[Mark], size: int) -> None:
    """The hatch of every mark on the islands it names, of the first marks only where many lie on one island; texels
    that are shared are filled, for findings about sharing."""
    height, width = canvas.shape[:2]
    step, thick = max(6, round(size / 85)), max(1, round(size / 512))
    hatched: dict[int, int] = {}
    jobs = []
    for mark in marks:
        named = [int(row) for row in mark.rows if hatched.get(int(row), 0) < MOST_HATCHES]
        for row in named:
            hatched[row] = hatched.get(row, 0) + 1
        jobs.append((mark, np.array(named, dtype=np.int64)))
    for mark, rows in reversed(jobs):
        if not len(rows):
            continue
        own = np.isin(placed.row, rows)
        count = coverage(placed.pixels[:, :, own], width, height)
        fill(canvas, (count > 0) & hatch(mark.hatch, width, height, step, thick), mark.color)
    for mark in marks:
        if mark.finding.check == "overlapping-islands" and len(mark.rows):
            own = np.isin(placed.row, mark.rows)
            shared = coverage(placed.pixels[:, :, own], width, height) > 1
            fill(canvas, shared & ~hatch(mark.hatch, width, height, step, thick), mark.color)
            fill(canvas, shared & hatch(mark.hatch, width, height, step, thick), PAPER)


def _outline(canvas: Canvas, edges: Edges, view: View, mark: Mark, size: int) -> None:
    height, width = canvas.shape[:2]
    line = max(2.0, size / 380)
    pieces = [edges.outline[:, np.isin(edges.owner, mark.rows)]]
    for box in mark.boxes:
        pieces.append(frame(_local(view, box)))
    on, off = DASHES.get(mark.finding.level, (1, 0))
    lines = dashed(np.concatenate(pieces, axis=1), on * 2 * line, off * 2 * line)
    blend(canvas, line_coverage(lines, line, width, height), mark.color)


def _local(view: View, box: ViewBox) -> ViewBox:
    u, v = view.tile
    if view.folded:
        u, v = int(np.floor(box[0])), int(np.floor(box[1]))
    return view.box((box[0] - u, box[1] - v, box[2] - u, box[3] - v))


def _inner(owner: NDArray[np.int32], placed: Placed, islands: int) -> InnerPoints:
    """A place inside every island; inside its first triangle where the island is hidden or thinner than a pixel."""
    found = inner_points(owner, islands)
    height, width = owner.shape
    lost = np.flatnonzero(np.isnan(found.x[placed.row])) if len(placed.row) else np.zeros(0, np.int64)
    rows, first = np.unique(placed.row[lost], return_index=True)
    middle = placed.pixels[:, :, lost[first]].mean(axis=0)
    found.x[rows] = np.clip(middle[0], 0, width - 1)
    found.y[rows] = np.clip(middle[1], 0, height - 1)
    return found


def _island_boxes(placed: Placed, inner: InnerPoints) -> NDArray[np.float64]:
    """(i, 4) pixel box of every island, NaN for those of other pictures."""
    boxes = np.full((len(inner.x), 4), np.nan)
    boxes[placed.row, :2], boxes[placed.row, 2:] = np.inf, -np.inf
    for axis in range(2):
        np.minimum.at(boxes[:, axis], placed.row, placed.pixels[:, axis].min(axis=0))
        np.maximum.at(boxes[:, 2 + axis], placed.row, placed.pixels[:, axis].max(axis=0))
    return boxes


def _signs(canvas: Canvas, facts: Facts, marks: Sequence[Mark], inner: InnerPoints, thin: float) -> list[Box]:
    """Markers on the islands that findings name: which way is up, and which are mirrored. The boxes they take."""
    columns = facts.islands
    if columns is None:
        return []
    height, width = canvas.shape[:2]
    known = "upright" in facts.measured
    pieces, taken = [np.zeros((4, 0))], []
    for row in sorted({int(row) for mark in marks for row in mark.rows}):
        reach = min(inner.reach_x[row], inner.reach_y[row]) * 0.8
        if reach < 7 * thin:
            continue
        reach = min(reach, 46 * thin)
        x, y, mirrored = float(inner.x[row]), float(inner.y[row]), bool(columns.winding[row] < 0)
        if known:
            sign = marker(x, y, reach, float(columns.up_degrees[row]), float(columns.up_certainty[row]), mirrored)
        elif mirrored:
            sign = mirror_sign(x, y, reach, 90.0)
        else:
            continue
        pieces.append(sign)
        across, down, room = sign[0::2], sign[1::2], 3 * thin
        taken.append(
            (int(across.min() - room), int(down.min() - room), int(across.max() + room) + 1, int(down.max() + room) + 1)
        )
    lines = np.concatenate(pieces, axis=1)
    blend(canvas, line_coverage(lines, 6.0 * thin, width, height), PAPER)
    blend(canvas, line_coverage(lines, 2.4 * thin, width, height), INK)
    return taken


def _spots(view: View, marks: Sequence[Mark], boxes: NDArray[np.float64], size: int) -> list[tuple[Mark, ViewBox]]:
    """What is too small to catch the eye by itself, as pixel boxes: it gets a ring."""
    small = size / 22
    found = []
    for mark in marks:
        places: list[ViewBox] = []
        if not mark.points:
            places += [tuple(boxes[row].tolist()) for row in mark.rows[:MOST_LETTERS]]
        places += [_local(view, box) for box in mark.boxes]
        places += [_local(view, (u, v, u, v)) for u, v in mark.points[:MOST_LETTERS]]
        found += [(mark, box) for box in places if max(box[2] - box[0], box[3] - box[1]) < small]
    return found


def _ring(box: ViewBox, size: int) -> NDArray[np.float64]:
    x, y = (box[0] + box[2]) / 2, (box[1] + box[3]) / 2
    radius = max(box[2] - box[0], box[3] - box[1]) * 0.71 + size / 80
    turn = np.arange(33) * (2 * np.pi / 32)
    across, down = x + radius * np.cos(turn), y + radius * np.sin(turn)
    return np.stack([across[:-1], down[:-1], across[1:], down[1:]])


def _lettered(
    canvas: Canvas,
    picture: Picture,
    marks: Sequence[Mark],
    labels: Sequence[Label],
    owner: NDArray[np.int32],
    inner: InnerPoints,
    room: Room,
    size: int,
) -> Canvas:
    colors = {mark.letter: mark.color for mark in marks}
    image = Image.fromarray(canvas)
    draw = ImageDraw.Draw(image)
    thin = max(1, round(size / 700))
    for label in labels:
        middle = ((label.box[0] + label.box[2]) / 2, (label.box[1] + label.box[3]) / 2)
        here = owner[int(label.anchor[1]), int(label.anchor[0])]
        if label.apart and (here < 0 or owner[int(middle[1]), int(middle[0])] != here):
            draw.line((middle, label.anchor), PAPER, 3 * thin)
            draw.line((middle, label.anchor), INK, thin)
    for label in labels:
        color = colors[label.lines[0].split()[0]]
        x0, y0, x1, y1 = label.box
        draw.rectangle((x0, y0, x1 - 1, y1 - 1), PAPER, color, max(2, round(size / 400)))
        draw_letter(image, label.box, label.lines, round(type_size(size) * 1.15))
    _numbers(draw, picture, {int(row) for mark in marks for row in mark.rows}, inner, room, size)
    return np.asarray(image)


def place_letters(
    view: View,
    marks: Sequence[Mark],
    spots: Sequence[tuple[Mark, ViewBox]],
    inner: InnerPoints,
    boxes: NDArray[np.float64],
    room: Room,
    size: int,
) -> list[Label]:
    """Labels with the letters of all marks, none on another, none cut off; what they take is taken from the room."""
    wanted: dict[tuple[float, float], list[str]] = {}
    keep_clear: dict[tuple[float, float], Box] = {}
    for mark in marks:
        anchors = []
        if not mark.points:
            seen = boxes[mark.rows]
            area = (seen[:, 2] - seen[:, 0]) * (seen[:, 3] - seen[:, 1])
            largest = mark.rows[np.argsort(-area, kind="stable")[:MOST_LETTERS]]
            anchors += [(float(inner.x[row]), float(inner.y[row])) for row in largest]
        for box in [_local(view, box) for box in mark.boxes]:
            large = max(box[2] - box[0], box[3] - box[1]) > size / 4  # its middle may lie far from what it frames
            anchors.append((box[0], box[1]) if large else ((box[0] + box[2]) / 2, (box[1] + box[3]) / 2))
        for u, v in mark.points[:MOST_LETTERS]:
            x, y, _, _ = _local(view, (u, v, u, v))
            anchors.append((x, y))
        for x, y in anchors:
            at = (min(max(x, 0.0), view.width - 1.0), min(max(y, 0.0), view.height - 1.0))
            wanted.setdefault(at, []).append(mark.letter)
    for _, box in spots:
        ring = _ring(box, size)
        around = (int(ring[0].min()), int(ring[1].min()), int(ring[0].max()) + 1, int(ring[1].max()) + 1)
        for x, y in wanted:
            if around[0] <= x < around[2] and around[1] <= y < around[3]:
                keep_clear[(x, y)] = around
    text = round(type_size(size) * 1.15)
    labels = []
    for anchor, letters in wanted.items():
        lines = tuple(
            " ".join(letters[start : start + LETTERS_A_LINE]) for start in range(0, len(letters), LETTERS_A_LINE)
        )
        wide = max(width_of(line, text) for line in lines) + text
        high = line_height(text) * len(lines) + text // 2
        found = room.near(anchor[0], anchor[1], wide, high, off=keep_clear.get(anchor))
        if found is not None:
            labels.append(Label(lines, found, anchor))
    return labels


def _numbers(
    draw: ImageDraw.ImageDraw, picture: Picture, marked: set[int], inner: InnerPoints, room: Room, size: int
) -> None:
    """Numbers of the islands, where they fit without touching anything; on marked ones on a plate, over the hatch."""
    text = max(10, round(type_size(size) * 0.8))
    for row in picture.islands:
        number = str(int(row) + 1)
        wide, high = width_of(number, text) + 4, line_height(text)
        if inner.reach_x[row] * 2 < wide or inner.reach_y[row] * 2 < high:
            continue
        x, y = float(inner.x[row]), float(inner.y[row])
        for part in (0.0, 0.75, -0.75, 0.5, -0.5, 0.25, -0.25):
            left, top = round(x - wide / 2), round(y - high / 2 + part * inner.reach_y[row])
            box = (left, top, left + wide, top + high)
            if abs(part) * inner.reach_y[row] + high / 2 <= inner.reach_y[row] and room.free(box):
                room.take(box)
                draw.rectangle((left, top, left + wide - 1, top + high - 1), PAPER if int(row) in marked else ISLAND)
                draw.text((left + wide / 2, top + high / 2), number, FAINT_INK, font(text), anchor="mm")
                break
