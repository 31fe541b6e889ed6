"""The layout of a fault sheet: neutral islands, and on them the marks of findings."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from tidegate.draw.canvas import Canvas, blank, draw_lines, fill
from tidegate.draw.dashes import dashed
from tidegate.draw.edges import Edges, edges_of
from tidegate.draw.fault_hatches import draw_hatches
from tidegate.draw.fault_letters import place_letters
from tidegate.draw.fault_plates import draw_letters
from tidegate.draw.inner_points import InnerPoints, inner_points
from tidegate.draw.labels import Box, Label, Room
from tidegate.draw.legend import DASHES
from tidegate.draw.marker import ARROW, MIRRORED, RING, is_certain, marker, mirror_sign
from tidegate.draw.marks import Mark
from tidegate.draw.palette import INK, INNER_EDGE, ISLAND, OUTLINE, OUTSIDE, PAPER, TILE_EDGE
from tidegate.draw.placed import Placed, place
from tidegate.draw.rings import Spot, local, ring, small_spots
from tidegate.draw.tile_frame import draw_tile, frame, tile_border
from tidegate.geometry.raster import owners
from tidegate.geometry.repeated import other_tiles
from tidegate.geometry.segments import within_box
from tidegate.model.facts import Facts, Picture
from tidegate.model.picture_places import PixelBox
from tidegate.model.selection import made_to_repeat, repeating
from tidegate.model.view import View, layout_view

SMALLEST_SIGNED = 44  # pixels free on every side, at 1024, for a marker beside the letter
MOST_AGAIN = 100_000  # sides of islands that come in again


class MarkedLayout(NamedTuple):
    """canvas: (height, width, 3), as large as the view. places: the box of each letter on it. unlettered: islands that
    findings name and that are too small for a letter. signs: what the markers on it say, "" where there are none."""

    canvas: Canvas
    places: dict[str, PixelBox]
    unlettered: int
    signs: str


def draw_layout(facts: Facts, picture: Picture, marks: Sequence[Mark], size: int) -> MarkedLayout:
    """The layout with its marks."""
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
    draw_hatches(canvas, placed, marks, size)
    for mark in reversed(sorted(marks, key=lambda mark: mark.whole)):  # noqa: C413 - equals stay: the first on top
        _outline(canvas, edges, view, mark, size)
    inner = _inner(owner, placed, len(facts.islands) if facts.islands is not None else 0)
    boxes = _island_boxes(placed, inner)
    taken, signs = _signs(canvas, facts, marks, inner, thin)
    room = Room(view.width, view.height, taken)
    spots = small_spots(view, marks, boxes, placed, size)
    for spot in reversed(spots):  # the first on top
        draw_lines(canvas, ring(spot.box, size), 3.0 * thin, spot.mark.color)
    labels = place_letters(view, marks, spots, inner, boxes, room, size)
    drawn = draw_letters(canvas, picture, marks, labels, owner, inner, room, size)
    marked = {int(row) for mark in marks if not mark.points for row in mark.rows}
    lettered = {row for label in labels if label.row is not None for row in (label.row, *label.stacked)}
    return MarkedLayout(drawn, _places(view, marks, boxes, spots, labels, size), len(marked - lettered), signs)


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
    spots: Sequence[Spot],
    labels: Sequence[Label],
    size: int,
) -> dict[str, PixelBox]:
    """The box about everything that is marked with a letter and about the letter itself, cut off at the border of the
    layout."""
    found: dict[str, PixelBox] = {}
    for mark in marks:
        places = [] if mark.points else [tuple(boxes[row].tolist()) for row in mark.rows]
        places += [local(view, box) for box in mark.boxes]
        for spot in spots:
            if spot.mark is mark:
                around = ring(spot.box, size)
                places.append((around[0].min(), around[1].min(), around[0].max(), around[1].max()))
        places += [label.box for label in labels if any(mark.letter in line.split() for line in label.lines)]
        edges = np.array(places, dtype=np.float64)
        x0, y0 = np.clip(np.floor(edges[:, :2].min(axis=0)), 0, (view.width - 1, view.height - 1))
        x1, y1 = np.clip(np.ceil(edges[:, 2:].max(axis=0)), (x0 + 1, y0 + 1), (view.width, view.height))
        found[mark.letter] = (int(x0), int(y0), int(x1), int(y1))
    return found


def _outline(canvas: Canvas, edges: Edges, view: View, mark: Mark, size: int) -> None:
    line = max(2.0, size / 380)
    pieces = [edges.outline[:, np.isin(edges.owner, mark.rows)]]
    for box in mark.boxes:
        pieces.append(frame(local(view, box)))
    on, off = DASHES.get(mark.finding.level, (1, 0))
    lines = dashed(np.concatenate(pieces, axis=1), on * 2 * line, off * 2 * line)
    draw_lines(canvas, lines, line, mark.color)


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


def _signs(
    canvas: Canvas, facts: Facts, marks: Sequence[Mark], inner: InnerPoints, thin: float
) -> tuple[list[Box], str]:
    """Markers on the islands that findings name: which way is up, and which are mirrored. The boxes they take, and what they
    say."""
    columns = facts.islands
    if columns is None:
        return [], ""
    known = "upright" in facts.measured
    pieces, taken, says = [np.zeros((4, 0))], [], set()
    for row in sorted({int(row) for mark in marks for row in mark.rows}):
        room = min(inner.reach_x[row], inner.reach_y[row])
        if room < SMALLEST_SIGNED * thin:
            continue  # the letter needs the room
        reach = min(0.8 * room, 46 * thin)
        x, y, mirrored = float(inner.x[row]), float(inner.y[row]), bool(columns.winding[row] < 0)
        if known:
            up, certainty = float(columns.up_degrees[row]), float(columns.up_certainty[row])
            sign = marker(x, y, reach, up, certainty, mirrored)
            says.add(ARROW if is_certain(up, certainty) else RING)
        elif mirrored:
            sign = mirror_sign(x, y, reach, 90.0)
        else:
            continue
        says |= {MIRRORED} if mirrored else set()
        pieces.append(sign)
        across, down, edge = sign[0::2], sign[1::2], 3 * thin
        taken.append(
            (int(across.min() - edge), int(down.min() - edge), int(across.max() + edge) + 1, int(down.max() + edge) + 1)
        )
    lines = np.concatenate(pieces, axis=1)
    draw_lines(canvas, lines, 6.0 * thin, PAPER)
    draw_lines(canvas, lines, 2.4 * thin, INK)
    return taken, ", ".join(word for word in (ARROW, RING, MIRRORED) if word in says)
