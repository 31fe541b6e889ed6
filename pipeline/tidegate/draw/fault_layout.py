"""The layout of a fault sheet: neutral islands, and on them the marks of findings."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray
from PIL import Image, ImageDraw

from tidegate.draw.canvas import Canvas, blank, draw_lines, fill, window
from tidegate.draw.dashes import dashed
from tidegate.draw.edges import Edges, edges_of
from tidegate.draw.hatch import hatch
from tidegate.draw.inner_points import InnerPoints, inner_points
from tidegate.draw.labels import Box, Label, Room
from tidegate.draw.legend import DASHES, draw_letter
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
from tidegate.geometry.repeated import other_tiles
from tidegate.geometry.segments import within_box
from tidegate.model.facts import Facts, Picture
from tidegate.model.picture_places import PixelBox
from tidegate.model.selection import made_to_repeat, repeating
from tidegate.model.view import View, layout_view, type_size

MOST_LETTERS = 12  # places of one finding that get its letter; the hatch shows the others
MOST_HATCHES = 2  # findings whose hatches are drawn over one another on an island
SMALLEST_SIGNED = 26  # pixels free on every side, at 1024, for a marker beside the letter

MOST_AGAIN = 100_000  # sides of islands that come in again

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
    draw_lines(canvas, edges.inner, thin, INNER_EDGE)
    draw_lines(canvas, edges.outline, 1.3 * thin, OUTLINE)
    draw_lines(canvas, tile_border(view), 1.5 * thin, TILE_EDGE)
    draw_lines(canvas, _again(facts, picture, view, edges.outline, 4 * thin), 1.3 * thin, OUTLINE)
    _hatches(canvas, placed, marks, size)
    for mark in reversed(sorted(marks, key=lambda mark: mark.whole)):  # noqa: C413 - equals stay: the first on top
        _outline(canvas, edges, view, mark, size)
    inner = _inner(owner, placed, len(facts.islands) if facts.islands is not None else 0)
    boxes = _island_boxes(placed, inner)
    room = Room(view.width, view.height, _signs(canvas, facts, marks, inner, thin))
    spots = _spots(view, marks, boxes, size)
    for mark, box in spots:
        draw_lines(canvas, _ring(box, size), 3.0 * thin, mark.color)
    labels = place_letters(view, marks, spots, inner, boxes, room, size)
    drawn = _lettered(canvas, picture, marks, labels, owner, inner, room, size)
    return drawn, _places(view, marks, boxes, spots, size)


def _again(
    facts: Facts, picture: Picture, view: View, outline: NDArray[np.float64], dash: float
) -> NDArray[np.float64]:
    """What comes in again over the border of a map that repeats, as dashed outlines in the tile. A map that was made to
    repeat is full of it, and nothing is shown."""
    columns = facts.islands
    if columns is None or view.folded or not any(repeating(picture)) or made_to_repeat(columns, picture):
        return np.zeros((4, 0))
    x0, y0, x1, y1 = view.box((0.0, 0.0, 1.0, 1.0))
    corner = np.array([x0, y0, x0, y0])[:, None]
    more = other_tiles((outline - corner).reshape(2, 2, -1), (x1 - x0, y1 - y0), repeating(picture), most=MOST_AGAIN)
    if more is None:
        return np.zeros((4, 0))
    lines, _ = within_box(more[1].reshape(4, -1), (-1.0, -1.0), (x1 - x0 + 1.0, y1 - y0 + 1.0))
    return dashed(lines + corner, dash, dash)


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
    by_row = np.argsort(placed.row, kind="stable")
    ordered = placed.row[by_row]
    hatched: dict[int, int] = {}
    jobs = []
    for mark in sorted(marks, key=lambda mark: mark.whole):
        most = 1 if mark.whole else MOST_HATCHES
        named = [int(row) for row in mark.rows if hatched.get(int(row), 0) < most]
        for row in named:
            hatched[row] = hatched.get(row, 0) + 1
        jobs.append((mark, np.array(named, dtype=np.int64)))
    for mark, rows in reversed(jobs):
        # A few islands far apart are cheaper one by one than all of the picture between them.
        for some in np.split(rows, len(rows)) if 0 < len(rows) <= MOST_LETTERS else [rows]:
            _hatch_rows(canvas, placed.pixels[:, :, _triangles_of(by_row, ordered, some)], mark, size, shared=False)
    for mark in marks:
        if mark.finding.shown.shared:
            own = _triangles_of(by_row, ordered, mark.rows)
            _hatch_rows(canvas, placed.pixels[:, :, own], mark, size, shared=True)


def _triangles_of(by_row: NDArray[np.int64], ordered: NDArray[np.int32], rows: NDArray[np.int64]) -> NDArray[np.int64]:
    """Triangles of some islands. by_row: all triangles in order of their islands, ordered: those islands."""
    first, end = np.searchsorted(ordered, rows, "left"), np.searchsorted(ordered, rows, "right")
    return np.concatenate([by_row[a:b] for a, b in zip(first, end, strict=True)] or [np.zeros(0, np.int64)])


def _hatch_rows(canvas: Canvas, pixels: NDArray[np.float64], mark: Mark, size: int, *, shared: bool) -> None:
    """The hatch over these triangles; over texels covered twice, reversed and dense, where only `shared` ones are meant."""
    step, thick = max(6, round(size / 85)), max(1, round(size / 512))
    height, width = canvas.shape[:2]
    rows, columns = window(pixels.transpose(1, 0, 2).reshape(2, -1), 1, width, height)
    part = canvas[rows, columns]
    if not part.size:
        return
    moved = pixels - np.array([columns.start, rows.start], float)[None, :, None]
    count = coverage(moved, part.shape[1], part.shape[0])
    lines = hatch(mark.hatch, part.shape[1], part.shape[0], step, thick, (columns.start, rows.start))
    if shared:
        fill(part, (count > 1) & ~lines, mark.color)
        fill(part, (count > 1) & lines, PAPER)
    else:
        fill(part, (count > 0) & lines, mark.color)


def _outline(canvas: Canvas, edges: Edges, view: View, mark: Mark, size: int) -> None:
    line = max(2.0, size / 380)
    pieces = [edges.outline[:, np.isin(edges.owner, mark.rows)]]
    for box in mark.boxes:
        pieces.append(frame(_local(view, box)))
    on, off = DASHES.get(mark.finding.level, (1, 0))
    lines = dashed(np.concatenate(pieces, axis=1), on * 2 * line, off * 2 * line)
    draw_lines(canvas, lines, line, mark.color)


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
    known = "upright" in facts.measured
    pieces, taken = [np.zeros((4, 0))], []
    for row in sorted({int(row) for mark in marks for row in mark.rows}):
        room = min(inner.reach_x[row], inner.reach_y[row])
        if room < SMALLEST_SIGNED * thin:
            continue  # the letter needs the room
        reach = min(0.8 * room, 46 * thin)
        x, y, mirrored = float(inner.x[row]), float(inner.y[row]), bool(columns.winding[row] < 0)
        if known:
            sign = marker(x, y, reach, float(columns.up_degrees[row]), float(columns.up_certainty[row]), mirrored)
        elif mirrored:
            sign = mirror_sign(x, y, reach, 90.0)
        else:
            continue
        pieces.append(sign)
        across, down, edge = sign[0::2], sign[1::2], 3 * thin
        taken.append(
            (int(across.min() - edge), int(down.min() - edge), int(across.max() + edge) + 1, int(down.max() + edge) + 1)
        )
    lines = np.concatenate(pieces, axis=1)
    draw_lines(canvas, lines, 6.0 * thin, PAPER)
    draw_lines(canvas, lines, 2.4 * thin, INK)
    return taken


def _spots(view: View, marks: Sequence[Mark], boxes: NDArray[np.float64], size: int) -> list[tuple[Mark, ViewBox]]:
    """What is too small to catch the eye by itself, as pixel boxes: it gets a ring."""
    small = size / 22
    found = []
    for mark in marks:
        places: list[ViewBox] = []
        if not mark.points and not mark.whole:
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
        if mark.whole:
            anchors.append(view.box((0.0, 0.0, 1.0, 1.0))[:2])
        elif not mark.points:
            seen = boxes[mark.rows]
            area = (seen[:, 2] - seen[:, 0]) * (seen[:, 3] - seen[:, 1])
            largest = mark.rows[np.argsort(-area, kind="stable")[:MOST_LETTERS]]
            anchors += [(float(inner.x[row]), float(inner.y[row])) for row in largest]
        for box in [_local(view, box) for box in mark.boxes]:
            large = max(box[2] - box[0], box[3] - box[1]) > size / 4  # its middle may lie far from what it frames
            anchors.append((box[0], box[1]) if large else ((box[0] + box[2]) / 2, (box[1] + box[3]) / 2))
            if not large:
                keep_clear[anchors[-1]] = (int(box[0]), int(box[1]), int(box[2]) + 1, int(box[3]) + 1)
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
        a_line = math.ceil(math.sqrt(0.8 * len(letters)))  # about as wide as high
        lines = tuple(" ".join(letters[start : start + a_line]) for start in range(0, len(letters), a_line))
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
        reach_x, reach_y = float(inner.reach_x[row]), float(inner.reach_y[row])
        for right, down in _AWAY:
            left = round(float(inner.x[row]) - wide / 2 + right * (reach_x - wide / 2))
            top = round(float(inner.y[row]) - high / 2 + down * (reach_y - high / 2))
            box = (left, top, left + wide, top + high)
            if room.free(box):
                room.take(box)
                draw.rectangle((left, top, left + wide - 1, top + high - 1), PAPER if int(row) in marked else ISLAND)
                draw.text((left + wide / 2, top + high / 2), number, FAINT_INK, font(text), anchor="mm")
                break


_AWAY = (
    (0.0, 0.0),
    *((0.0, s * d) for d in (0.9, 0.7, 0.5, 0.3) for s in (1, -1)),
    *((s * d, 0.0) for d in (0.9, 0.7, 0.5, 0.3) for s in (1, -1)),
)
"""Places for a number on the cross that fits into its island, in parts of its arms; the middle first."""
