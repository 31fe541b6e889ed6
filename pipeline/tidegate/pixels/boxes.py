"""Cut-out boxes around the worst places of a map."""

from __future__ import annotations

from collections.abc import Iterable

Box = tuple[int, int, int, int]

LEAST_SIDE, MARGIN, MOST = 128, 16, 8


def cut_out(box: Iterable[int], width: int, height: int, least: int = LEAST_SIDE, margin: int = MARGIN) -> Box:
    """A box of the map that shows `box` with `margin` texels around it and is at least `least` on each side.

    Boxes are x0, y0, x1, y1, half-open, from the upper left. The result lies inside the map and is moved, not cut, at its
    border, so it is smaller than `least` only where the map is. ValueError for a box that lies outside the map or is empty.
    """
    x0, y0, x1, y1 = (int(v) for v in box)
    if not (0 <= x0 < x1 <= width and 0 <= y0 < y1 <= height):
        raise ValueError(f"box {(x0, y0, x1, y1)} is empty or outside a map of {width} x {height}")
    left, right = _span(x0, x1, width, least, margin)
    top, bottom = _span(y0, y1, height, least, margin)
    return left, top, right, bottom


def cut_outs(
    boxes: Iterable[Iterable[int]],
    width: int,
    height: int,
    most: int = MOST,
    least: int = LEAST_SIDE,
    margin: int = MARGIN,
) -> list[tuple[Box, tuple[int, ...]]]:
    """Up to `most` cut-outs for boxes given the worst first, each with the positions of the boxes it shows.

    A place that a cut-out already shows whole gets none of its own.
    """
    shown: list[tuple[Box, list[int]]] = []
    for position, box in enumerate(boxes):
        x0, y0, x1, y1 = (int(v) for v in box)
        for (left, top, right, bottom), inside in shown:
            if left <= x0 and top <= y0 and x1 <= right and y1 <= bottom:
                inside.append(position)
                break
        else:
            if len(shown) < most:
                shown.append((cut_out((x0, y0, x1, y1), width, height, least, margin), [position]))
    return [(box, tuple(inside)) for box, inside in shown]


def _span(low: int, high: int, size: int, least: int, margin: int) -> tuple[int, int]:
    wanted = min(max(high - low + 2 * margin, least), size)
    start = (low + high - wanted) // 2
    start = min(max(start, 0), size - wanted)
    return start, start + wanted
