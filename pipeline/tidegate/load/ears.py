"""Ear clipping of one polygon in the plane.

G. H. Meisters, "Polygons have ears", American Mathematical Monthly 82 (1975), 648-651: every simple polygon of more than
three corners has two ears, so cutting one after the other ends.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

THIN = 1e-6  # height over longest side below which a triangle has no area worth the name; six decimals keep no more

Points = list[tuple[float, float]]


def clip_ears(points: Points, laid: Points | None = None) -> tuple[NDArray[np.int64], bool]:
    """Triangles of a polygon that runs counter-clockwise, and whether it was a simple one.

    laid: where its corners lie in a layout; ears that have an area there too come first.
    """
    left = list(range(len(points)))
    cut: list[tuple[int, int, int]] = []
    clear = True
    at = 0
    while len(left) > 3:
        i = -1 if laid is None else _ear(points, left, at, THIN, laid)
        if i < 0:
            i = _ear(points, left, at, THIN)
        if i < 0:
            i = _ear(points, left, at, 0.0)
        if i < 0:
            clear = False
            i = at % len(left)
        cut.append((left[i - 1], left[i], left[(i + 1) % len(left)]))
        del left[i]
        at = i
    cut.append((left[0], left[1], left[2]))
    return np.array(cut, dtype=np.int64), clear


def _ear(points: Points, left: Sequence[int], at: int, thin: float, laid: Points | None = None) -> int:
    """Place in `left` of the first ear from `at` on that is not as thin as that, -1 if there is none."""
    corners = [(left[i - 1], k, left[(i + 1) % len(left)]) for i, k in enumerate(left)]
    turns = [_turn(points, *corner) > thin * _longest(points, *corner) for corner in corners]
    reflex = [k for k, turns_out in zip(left, turns, strict=True) if not turns_out]
    for step in range(len(left)):
        i = (at + step) % len(left)
        if laid is not None and abs(_turn(laid, *corners[i])) <= thin * _longest(laid, *corners[i]):
            continue
        if turns[i] and not _holds_any(points, *corners[i], reflex, thin):
            return i
    return -1


def _turn(points: Points, a: int, b: int, c: int) -> float:
    """Twice the signed area of a triangle."""
    (ax, ay), (bx, by), (cx, cy) = points[a], points[b], points[c]
    return (bx - ax) * (cy - ay) - (by - ay) * (cx - ax)


def _longest(points: Points, a: int, b: int, c: int) -> float:
    """Square of the longest side of a triangle."""
    (ax, ay), (bx, by), (cx, cy) = points[a], points[b], points[c]
    return max((ax - bx) ** 2 + (ay - by) ** 2, (bx - cx) ** 2 + (by - cy) ** 2, (cx - ax) ** 2 + (cy - ay) ** 2)


def _holds_any(points: Points, a: int, b: int, c: int, others: list[int], thin: float) -> bool:
    """Whether another corner lies in the triangle or on its rim. Corners in the same place as its own do not count:
    an outline that goes to a hole and back on one line has such corners."""
    own = (points[a], points[b], points[c])
    rim = -thin * _longest(points, a, b, c)
    return any(
        _turn(points, a, b, k) >= rim
        and _turn(points, b, c, k) >= rim
        and _turn(points, c, a, k) >= rim
        and points[k] not in own
        for k in others
    )
