"""Rings around what is drawn too small to catch the eye by itself."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from tidegate.draw.marks import Mark
from tidegate.draw.placed import Placed
from tidegate.model.view import View

MOST = 12  # rings of one finding
_SMALL, _THIN = 1 / 22, 1 / 170  # parts of the layout

ViewBox = tuple[float, float, float, float]


class Spot(NamedTuple):
    """A place that gets a ring, in pixels. lettered: the letter stands beside it too, as it is no island."""

    mark: Mark
    box: ViewBox
    lettered: bool


def local(view: View, box: ViewBox) -> ViewBox:
    """A UV box in the drawn layout."""
    u, v = view.tile
    if view.folded:
        u, v = int(np.floor(box[0])), int(np.floor(box[1]))
    return view.box((box[0] - u, box[1] - v, box[2] - u, box[3] - v))


def small_spots(view: View, marks: Sequence[Mark], boxes: NDArray[np.float64], placed: Placed, size: int) -> list[Spot]:
    """What is too small to catch the eye. boxes: pixel box of every island."""
    found: list[Spot] = []
    for mark in marks:
        if not mark.points and not mark.whole and not mark.faces:
            named = [tuple(boxes[row].tolist()) for row in mark.rows]
            limit = _SMALL if len(named) <= MOST else _THIN  # of many, only what would not be seen at all
            found += [Spot(mark, box, False) for box in named if _longer(box) < limit * size][:MOST]
        faces = mark.face_boxes(placed)
        limit = _SMALL if len(faces) <= MOST else _THIN
        found += [Spot(mark, box, True) for box in faces if _longer(box) < limit * size][:MOST]
        found += [Spot(mark, box, False) for b in mark.boxes if _longer(box := local(view, b)) < _SMALL * size]
        found += [Spot(mark, local(view, (u, v, u, v)), False) for u, v in mark.points[:MOST]]
        around = [local(view, box) for box in mark.around]
        found += [Spot(mark, spot, True) for box in around if (spot := _ringed(box, size)) is not None][:MOST]
    return found


def ring(box: ViewBox, size: int) -> NDArray[np.float64]:
    """The ring about a box, as segments (4, 32)."""
    x, y = (box[0] + box[2]) / 2, (box[1] + box[3]) / 2
    radius = _longer(box) * 0.71 + size / 80
    turn = np.arange(33) * (2 * np.pi / 32)
    across, down = x + radius * np.cos(turn), y + radius * np.sin(turn)
    return np.stack([across[:-1], down[:-1], across[1:], down[1:]])


def _ringed(box: ViewBox, size: int) -> ViewBox | None:
    """The box if it is small, the middle of one that is long and hardly seen for its width; else nothing."""
    if _longer(box) < _SMALL * size:
        return box
    if min(box[2] - box[0], box[3] - box[1]) < _THIN * size:
        x, y = (box[0] + box[2]) / 2, (box[1] + box[3]) / 2
        return x, y, x, y
    return None


def _longer(box: ViewBox) -> float:
    return max(box[2] - box[0], box[3] - box[1])
