"""Markers and numbers of islands on a guide sheet: one above the other, side by side where an island is low and wide."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from tidegate.draw.inner_points import InnerPoints
from tidegate.draw.marker import marker
from tidegate.model.facts import IslandColumns

_SMALLEST = 9  # texels of the type; smaller digits cannot be read


@dataclass(frozen=True, slots=True)
class Number:
    """The number of an island: text, middle in texels, height of the type in texels."""

    text: str
    x: float
    y: float
    size: int


class _Room(NamedTuple):
    """The two halves of an island about its inner point: where number and marker have their middles, and how far they may reach
    across and upwards from there."""

    row: int
    number: tuple[float, float]
    number_reach: tuple[float, float]
    marker: tuple[float, float]
    marker_reach: tuple[float, float]


def _type_in(width: int) -> float:
    """Height of the numbers in texels where there is room for them. width: of the sheet."""
    return max(14.0, width / 48)


def _rooms(rows: NDArray[np.int64], inner: InnerPoints, width: int) -> Iterator[_Room]:
    for row in rows.tolist():
        x, y = float(inner.x[row]), float(inner.y[row])
        across, upward = float(inner.reach_x[row]), float(inner.reach_y[row])
        if 0.8 * upward < _type_in(width) and across > 1.5 * upward:
            aside = 0.5 * min(across, 2.2 * upward)
            yield _Room(row, (x + aside, y), (0.9 * aside, 0.6 * upward), (x - aside, y), (0.9 * aside, 0.8 * upward))
        else:
            yield _Room(
                row,
                (x, y + 0.5 * upward),
                (0.8 * across, 0.4 * upward),
                (x, y - 0.45 * upward),
                (0.8 * across, 0.42 * upward),
            )


def numbers_in(rows: NDArray[np.int64], inner: InnerPoints, width: int) -> tuple[Number, ...]:
    """Numbers of the islands that have room for one. width: of the sheet in texels."""
    found = []
    for room in _rooms(rows, inner, width):
        text = str(room.row + 1)
        across, upward = room.number_reach
        size = int(min(_type_in(width), 2.0 * upward, 2.0 * across / max(1.0, 0.62 * len(text))))
        if size >= _SMALLEST:
            found.append(Number(text, *room.number, size))
    return tuple(found)


def markers_in(
    rows: NDArray[np.int64], inner: InnerPoints, columns: IslandColumns, width: int, smallest: float
) -> NDArray[np.float64]:
    """Markers of the islands that have room for one of `smallest` texels, as lines (4, s)."""
    pieces = [np.zeros((4, 0))]
    for room in _rooms(rows, inner, width):
        reach = min(*room.marker_reach, max(14.0, width / 40))
        if reach >= smallest:
            up, certainty = float(columns.up_degrees[room.row]), float(columns.up_certainty[room.row])
            pieces.append(marker(*room.marker, reach, up, certainty, bool(columns.winding[room.row] < 0)))
    return np.concatenate(pieces, axis=1)
