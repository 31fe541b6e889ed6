"""Panels: flat or rolled pieces of surface whose layout is known exactly, so every measure can be worked out by hand.

A panel has s to the right and t upwards in metres. `place` maps corners (s, t) to metres in space (Y up, front +Z) so that
s x t points out of the surface: laid out with s along U and t along V it is upright and unmirrored.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Points = NDArray[np.float64]
Place = Callable[[Points, Points], Points]


@dataclass(frozen=True)
class Panel:
    """width, height: metres laid flat. corners: (n, 2) of (s, t). triangles: (m, 3). place: (s, t) -> (n, 3) metres.

    turn: degrees counter-clockwise that the panel lies turned in its map; mirrored: laid out as in a mirror;
    scale: texels per metre relative to the rest of the prop; paint: name of what is painted on it.
    """

    name: str
    material: str
    width: float
    height: float
    corners: Points
    triangles: NDArray[np.int64]
    place: Place
    paint: str
    turn: float = 0.0
    mirrored: bool = False
    scale: float = 1.0
    round: bool = False


def _grid(width: float, height: float, columns: int, rows: int) -> tuple[Points, NDArray[np.int64]]:
    s, t = np.meshgrid(np.linspace(0, width, columns + 1), np.linspace(0, height, rows + 1))
    corners = np.stack([s.ravel(), t.ravel()], axis=1)
    at = np.arange((columns + 1) * (rows + 1)).reshape(rows + 1, columns + 1)
    a, b, c, d = at[:-1, :-1].ravel(), at[:-1, 1:].ravel(), at[1:, 1:].ravel(), at[1:, :-1].ravel()
    return corners, np.concatenate([np.stack([a, b, c], 1), np.stack([a, c, d], 1)])


# outward axis -> (direction of s, direction of t); tops point away from the front, undersides towards it
SIDES = {
    "front": ((1, 0, 0), (0, 1, 0)),
    "right": ((0, 0, -1), (0, 1, 0)),
    "back": ((-1, 0, 0), (0, 1, 0)),
    "left": ((0, 0, 1), (0, 1, 0)),
    "top": ((1, 0, 0), (0, 0, -1)),
    "under": ((1, 0, 0), (0, 0, 1)),
}


def box(
    name: str,
    material: str,
    centre: tuple[float, float, float],
    size: tuple[float, float, float],
    paint: str,
    sides: tuple[str, ...] = tuple(SIDES),
    **more: object,
) -> list[Panel]:
    """The named sides of a box, a panel each."""
    panels = []
    for side in sides:
        right, up = (np.array(axis, float) for axis in SIDES[side])
        out = np.cross(right, up)
        extent = np.array(size)
        width, height = float(abs(right @ extent)), float(abs(up @ extent))
        start = np.array(centre) + (out * extent - right * extent - up * extent) / 2
        corners, triangles = _grid(width, height, 1, 1)
        panels.append(
            # `more` holds fields of a Panel by their names; mypy sees one type for all of them.
            Panel(f"{name}_{side}", material, width, height, corners, triangles, _flat(start, right, up), paint, **more)  # type: ignore[arg-type]
        )
    return panels


def _flat(start: Points, right: Points, up: Points) -> Place:
    return lambda s, t: start + s[:, None] * right + t[:, None] * up


def wall(
    name: str,
    material: str,
    radius: float,
    bottom: float,
    height: float,
    segments: int,
    paint: str,
    rows: int = 1,
    centre: tuple[float, float] = (0.0, 0.0),
    **more: object,
) -> Panel:
    """The wall of an upright cylinder with flat segments, cut open at the back and rolled out."""
    chord = 2 * radius * np.sin(np.pi / segments)
    corners, triangles = _grid(segments * chord, height, segments, rows)

    def place(s: Points, t: Points) -> Points:
        angle = -np.pi / 2 - s / chord * (2 * np.pi / segments)
        return np.stack([centre[0] + radius * np.cos(angle), bottom + t, centre[1] + radius * np.sin(angle)], axis=1)

    # `more` holds fields of a Panel by their names; mypy sees one type for all of them.
    return Panel(name, material, segments * chord, height, corners, triangles, place, paint, **more)  # type: ignore[arg-type]


def cap(
    name: str,
    material: str,
    radius: float,
    level: float,
    segments: int,
    paint: str,
    under: bool = False,
    centre: tuple[float, float] = (0.0, 0.0),
    hole: float = 0.0,
    **more: object,
) -> Panel:
    """The round top or underside of a cylinder, with a hole of radius `hole` in it."""
    angle = np.arange(segments) * 2 * np.pi / segments
    ring = np.stack([np.cos(angle), np.sin(angle)], axis=1)
    this = np.arange(segments)
    after = (this + 1) % segments
    if hole:
        corners = np.concatenate([ring * radius, ring * hole])
        triangles = np.concatenate(
            [np.stack([this, after, this + segments], 1), np.stack([after, after + segments, this + segments], 1)]
        )
    else:
        corners = np.concatenate([ring * radius, [[0.0, 0.0]]])
        triangles = np.stack([this, after, np.full(segments, segments)], axis=1)
    corners = corners + radius
    depth = 1.0 if under else -1.0

    def place(s: Points, t: Points) -> Points:
        return np.stack([centre[0] + s - radius, np.full(len(s), level), centre[1] + depth * (t - radius)], axis=1)

    # `more` holds fields of a Panel by their names; mypy sees one type for all of them.
    return Panel(name, material, 2 * radius, 2 * radius, corners, triangles, place, paint, round=True, **more)  # type: ignore[arg-type]
