"""Where the letters of findings stand on a layout: on every island they name, and beside rings, frames and points."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence

import numpy as np
from numpy.typing import NDArray

from tidegate.draw.inner_points import InnerPoints
from tidegate.draw.labels import Box, Label, Room
from tidegate.draw.marks import Mark
from tidegate.draw.rings import Spot, local, ring
from tidegate.draw.text import line_height, width_of
from tidegate.model.view import View, type_size

MOST_POINTS = 12  # points of one finding that get its letter
MOST_LED = 24
"""Islands too small for their letters that have them beside, each at the end of a line; where there are more, some have."""
_MOST_COMPARED = 5000  # islands of which it is asked whether they lie on one another
_PARTS = 4  # parts across and down of the layout, in each of which a letter then stands once


def place_letters(
    view: View,
    marks: Sequence[Mark],
    spots: Sequence[Spot],
    inner: InnerPoints,
    boxes: NDArray[np.float64],
    room: Room,
    size: int,
) -> list[Label]:
    """Labels with the letters of all marks, none on another, none cut off; what they take is taken from the room.

    An island has all its letters on it where they fit, with its number where there is room for both on one plate only.
    boxes: pixel box of every island.
    """
    anchors = _anchors(view, marks, spots, size)
    clear = _kept_clear(view, marks, spots, anchors, size)
    for spot in spots:
        if spot.lettered or spot.mark.points:
            room.take(_around(spot, size))
    labels = [*_on_islands(marks, inner, boxes, room, size)]
    large = round(type_size(size) * 1.15)
    for at, letters in anchors.items():
        lines = _lines(letters)
        found = room.near(*at, *_plate(lines, "", large), off=clear.get(at))
        if found is not None:
            labels.append(Label(lines, found, at, large))
    return labels


def _on_islands(
    marks: Sequence[Mark], inner: InnerPoints, boxes: NDArray[np.float64], room: Room, size: int
) -> Iterator[Label]:
    """Letters of the islands, the largest islands first, and beside those where they do not fit."""
    letters: dict[int, list[str]] = {}
    for mark in marks:
        if not mark.points:
            for row in mark.rows.tolist():
                letters.setdefault(row, []).append(mark.letter)
    stacks = _stacks(letters, boxes)
    rows = np.array(sorted(stacks), dtype=np.int64)
    area = (boxes[rows, 2] - boxes[rows, 0]) * (boxes[rows, 3] - boxes[rows, 1]) if len(rows) else rows
    width, height = room.size
    small: list[int] = []
    seen: set[tuple[str, int, int]] = set()
    # A layout may have a third of a million islands; those without room for one letter need not be asked one by one.
    narrowest = min((mark.letter for mark in marks), key=lambda letter: width_of(letter, small_type(size)), default="")
    enough = may_hold(inner, *_plate((narrowest,), "", small_type(size)))

    def at(row: int) -> tuple[float, float]:
        return _clipped(inner.x[row], width), _clipped(inner.y[row], height)

    for row in rows[np.argsort(-area, kind="stable")].tolist():
        label = _inside(_lines(letters[row]), row, at(row), inner, room, size) if enough[row] else None
        if label is not None:
            seen.update(_here(letters[row], at(row), size))
            yield label._replace(stacked=stacks[row])
        else:
            small.append(row)
    if len(small) > MOST_LED:
        small = [row for row in small if _unseen(_here(letters[row], at(row), size), seen)]
    beside = room.copy()  # where no island is covered
    for x0, y0, x1, y1 in np.clip(boxes[np.isfinite(boxes).all(axis=1)], 0, max(room.size)).astype(np.int64).tolist():
        beside.take((x0, y0, x1 + 1, y1 + 1))
    text = round(type_size(size) * 1.15)
    for row in small:
        lines = _lines(letters[row])
        wanted = _plate(lines, "", text)
        found = beside.near(*at(row), *wanted, within=size / 6) or room.near(*at(row), *wanted)
        if found is not None:
            room.take(found)
            beside.take(found)
            yield Label(lines, found, at(row), text, row, stacked=stacks[row])


def _stacks(letters: dict[int, list[str]], boxes: NDArray[np.float64]) -> dict[int, tuple[int, ...]]:
    """The first of the islands that take the same pixels and have the same letters, with the others; each its letters once
    where there are very many."""
    if len(letters) > _MOST_COMPARED:
        return dict.fromkeys(letters, ())
    alike: dict[object, list[int]] = {}
    for row in sorted(letters):
        alike.setdefault((*np.round(boxes[row]).tolist(), *letters[row]), []).append(row)
    return {rows[0]: tuple(rows[1:]) for rows in alike.values()}


def small_type(size: int) -> int:
    """Size of the type of letters and numbers on islands where the large one does not fit."""
    return max(10, round(type_size(size) * 0.8))


def may_hold(inner: InnerPoints, wide: int, high: int) -> NDArray[np.bool_]:
    """Islands with room for something of that size around their inner point."""
    return np.asarray((2 * inner.reach_x >= wide) & (2 * inner.reach_y >= high))


def _clipped(at: float, end: int) -> float:
    return float(np.clip(at, 0, end - 1))


def _here(letters: Sequence[str], at: tuple[float, float], size: int) -> list[tuple[str, int, int]]:
    """The letters with the part of the layout that they stand in."""
    return [(letter, int(at[0] * _PARTS / size), int(at[1] * _PARTS / size)) for letter in letters]


def _unseen(here: list[tuple[str, int, int]], seen: set[tuple[str, int, int]]) -> bool:
    """Whether one of these letters does not stand in this part of the layout yet; from now on they do."""
    new = not seen.issuperset(here)
    seen.update(here)
    return new


def _inside(
    lines: tuple[str, ...], row: int, at: tuple[float, float], inner: InnerPoints, room: Room, size: int
) -> Label | None:
    """The letters on their island: large with room for its number elsewhere, small with the number on the plate, or as
    they fit; None where they do not."""
    large, small = round(type_size(size) * 1.15), small_type(size)
    wide, high = 2 * float(inner.reach_x[row]), 2 * float(inner.reach_y[row])
    number = str(row + 1)
    beside = 2 * (line_height(small) + 2)  # the letters take the middle, and the number stands below or above
    for text, told, more in ((large, "", beside), (small, number, 0), (large, "", 0), (small, "", 0)):
        across, down = _plate(lines, told, text)
        if across <= wide and down + more <= high:
            found = room.near(*at, across, down, within=max(wide, high) / 2)
            if found is not None:
                return Label(lines, found, at, text, row, told)
    return None


def _lines(letters: Sequence[str]) -> tuple[str, ...]:
    """Letters in rows, about as wide as high."""
    a_line = math.ceil(math.sqrt(0.8 * len(letters)))
    return tuple(" ".join(letters[start : start + a_line]) for start in range(0, len(letters), a_line))


def _plate(lines: Sequence[str], number: str, text: int) -> tuple[int, int]:
    """Width and height of a plate in pixels."""
    rows = [*lines, number] if number else lines
    wide = max(width_of(line, text, bold=line != number) for line in rows)
    return wide + round(0.8 * text), line_height(text) * len(rows) + text // 2


def _anchors(
    view: View, marks: Sequence[Mark], spots: Sequence[Spot], size: int
) -> dict[tuple[float, float], list[str]]:
    """What gets letters beside islands: frames, points, and rings about something smaller than an island."""
    wanted: dict[tuple[float, float], list[str]] = {}
    for mark in marks:
        found = [_anchor(local(view, box), size) for box in mark.boxes if _alone(mark, local(view, box), size)]
        found += [local(view, (u, v, u, v))[:2] for u, v in mark.points[:MOST_POINTS]]
        found += [_middle(spot.box) for spot in spots if spot.mark is mark and spot.lettered]
        for x, y in found:
            at = (min(max(x, 0.0), view.width - 1.0), min(max(y, 0.0), view.height - 1.0))
            if mark.letter not in wanted.setdefault(at, []):
                wanted[at].append(mark.letter)
    return wanted


def _alone(mark: Mark, box: tuple[float, float, float, float], size: int) -> bool:
    """Whether a frame needs a letter of its own: not where it is large and lies about islands that have it."""
    return not len(mark.rows) or not _large(box, size)


def _large(box: tuple[float, float, float, float], size: int) -> bool:
    return max(box[2] - box[0], box[3] - box[1]) > size / 4


def _anchor(box: tuple[float, float, float, float], size: int) -> tuple[float, float]:
    return box[:2] if _large(box, size) else _middle(box)  # the middle of a large one may lie far from what it frames


def _middle(box: tuple[float, float, float, float]) -> tuple[float, float]:
    return (box[0] + box[2]) / 2, (box[1] + box[3]) / 2


def _kept_clear(
    view: View,
    marks: Sequence[Mark],
    spots: Sequence[Spot],
    anchors: dict[tuple[float, float], list[str]],
    size: int,
) -> dict[tuple[float, float], Box]:
    """The faults that must stay visible beside their letters, by anchor."""
    clear: dict[tuple[float, float], Box] = {}
    for mark in marks:
        for box in (local(view, box) for box in mark.boxes):
            if not _large(box, size):
                clear[_middle(box)] = (int(box[0]), int(box[1]), int(box[2]) + 1, int(box[3]) + 1)
    for spot in spots:
        x0, y0, x1, y1 = _around(spot, size)
        for x, y in anchors:
            if x0 <= x < x1 and y0 <= y < y1:
                clear[(x, y)] = (x0, y0, x1, y1)
    return clear


def _around(spot: Spot, size: int) -> Box:
    """The pixels that a ring takes."""
    lines = ring(spot.box, size)
    return int(lines[0].min()), int(lines[1].min()), int(lines[0].max()) + 1, int(lines[1].max()) + 1
