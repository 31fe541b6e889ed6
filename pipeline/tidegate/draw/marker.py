"""The marker of an island: an arrow where the model's up lands, a dot where that is uncertain, a sign when mirrored."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

UNCERTAIN = 0.5
"""Certainty below which the island has a dot in place of an arrow."""
ARROW, RING, MIRRORED = "arrow: the model's up", "ring: up is uncertain", "two points across it: mirrored"
"""What the markers say, in words."""

Segments = NDArray[np.float64]


def marker(x: float, y: float, reach: float, degrees: float, certainty: float, mirrored: bool) -> Segments:
    """Segments (4, s) of the marker about a place, at most `reach` pixels from it. degrees: direction of up, counter-
    clockwise from right with V up, NaN for none."""
    certain = is_certain(degrees, certainty)
    sign = arrow(x, y, reach, degrees) if certain else dot(x, y, reach * 0.22)
    if mirrored:
        return np.concatenate([sign, mirror_sign(x, y, reach, degrees if certain else 90.0)], axis=1)
    return sign


def is_certain(degrees: float, certainty: float) -> bool:
    """Whether the marker is an arrow."""
    return math.isfinite(degrees) and certainty >= UNCERTAIN


def arrow(x: float, y: float, reach: float, degrees: float) -> Segments:
    """A shaft with two barbs."""
    turn = math.radians(degrees)
    ahead = np.array([math.cos(turn), -math.sin(turn)])  # pixels run down
    side = np.array([-ahead[1], ahead[0]])
    tip, tail = ahead * reach, -ahead * reach
    barb = 0.55 * reach
    points = [(tail, tip), (tip, tip - ahead * barb + side * barb * 0.7), (tip, tip - ahead * barb - side * barb * 0.7)]
    return _segments(x, y, points)


def dot(x: float, y: float, radius: float) -> Segments:
    """A small ring of eight sides with a cross in it, full at any line width."""
    corners = [np.array([math.cos(k * math.pi / 4), math.sin(k * math.pi / 4)]) * radius for k in range(8)]
    ring = [(corners[k], corners[(k + 1) % 8]) for k in range(8)]
    return _segments(x, y, [*ring, (corners[0], corners[4]), (corners[2], corners[6])])


def mirror_sign(x: float, y: float, reach: float, degrees: float) -> Segments:
    """Two chevrons that face each other across the shaft: what is left on the one side is right on the other."""
    turn = math.radians(degrees)
    ahead = np.array([math.cos(turn), -math.sin(turn)])
    side = np.array([-ahead[1], ahead[0]])
    points = []
    for way in (1.0, -1.0):
        point = side * (0.3 * reach * way) - ahead * (0.4 * reach)
        for end in (1.0, -1.0):
            points.append((point, point + side * (0.45 * reach * way) + ahead * (0.4 * reach * end)))
    return _segments(x, y, points)


def _segments(x: float, y: float, points: list[tuple[NDArray[np.float64], NDArray[np.float64]]]) -> Segments:
    rows = [[start[0] + x, start[1] + y, end[0] + x, end[1] + y] for start, end in points]
    return np.array(rows, dtype=np.float64).T
