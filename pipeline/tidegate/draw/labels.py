"""Room for labels: each as near as can be to what it names, none on another, none over the border."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator
from typing import NamedTuple

Box = tuple[int, int, int, int]


class Label(NamedTuple):
    """text lines of a label; box: (x0, y0, x1, y1) half-open; anchor: what it names, in pixels; size: of the type. row: the
    island it is the label of, None for other places. number: that stands below the lines on the same plate. stacked: islands
    that lie right under this one and have the same letters."""

    lines: tuple[str, ...]
    box: Box
    anchor: tuple[float, float]
    size: int
    row: int | None = None
    number: str = ""
    stacked: tuple[int, ...] = ()

    @property
    def apart(self) -> bool:
        """The label lies beside its anchor, so a line must lead there."""
        x, y = self.anchor
        return not (self.box[0] <= x < self.box[2] and self.box[1] <= y < self.box[3])


class Room:
    """A window in which boxes are taken one after the other."""

    def __init__(self, width: int, height: int, taken: Iterable[Box] = ()) -> None:
        self.size = (width, height)
        self._width, self._height = width, height
        self._cell = 64
        self._cells: dict[tuple[int, int], list[Box]] = {}
        for box in taken:
            self.take(box)

    def copy(self) -> Room:
        """The same room, in which boxes can be taken without taking them here."""
        other = Room(*self.size)
        other._cells = {cell: list(boxes) for cell, boxes in self._cells.items()}
        return other

    def take(self, box: Box) -> None:
        """Keeps others off this box."""
        for cell in self._over(box):
            self._cells.setdefault(cell, []).append(box)

    def free(self, box: Box) -> bool:
        """Whether the box lies inside the window and on no other."""
        if box[0] < 0 or box[1] < 0 or box[2] > self._width or box[3] > self._height:
            return False
        return not any(overlap(box, other) for cell in self._over(box) for other in self._cells.get(cell, ()))

    def near(
        self, x: float, y: float, width: int, height: int, *, off: Box | None = None, within: float = math.inf
    ) -> Box | None:
        """The free box of this size nearest to a place, tried in rings about it, and taken. off: a box to keep clear of
        as well, such as a fault that must stay visible. within: how far in pixels its middle may lie from the place. None when
        there is no room there."""
        step = max(6, min(width, height) // 2)
        rings = math.ceil(math.hypot(self._width, self._height) / step)
        for ring in range(rings):
            if ring * step > within:
                return None
            turns = max(1, round(2 * math.pi * ring))
            for turn in range(turns):
                # The first place tried in each ring is up and to the right.
                angle = -math.pi / 4 + 2 * math.pi * turn / turns
                left = round(x + ring * step * math.cos(angle) - width / 2)
                top = round(y + ring * step * math.sin(angle) - height / 2)
                box = (left, top, left + width, top + height)
                if self.free(box) and not (off and overlap(box, off)):
                    self.take(box)
                    return box
        return None

    def _over(self, box: Box) -> Iterator[tuple[int, int]]:
        for row in range(box[1] // self._cell, (box[3] - 1) // self._cell + 1):
            for column in range(box[0] // self._cell, (box[2] - 1) // self._cell + 1):
                yield row, column


def overlap(one: Box, other: Box) -> bool:
    """Whether two half-open boxes share a pixel."""
    return one[0] < other[2] and other[0] < one[2] and one[1] < other[3] and other[1] < one[3]
