"""Backs of sheets that are modelled from both sides and share the paint of their fronts, as leaves and sails often do.

Front and back agree in position and UV along their border, so edges alone would make one island of them that lies folded in
half on itself. They are two: the back lies mirrored under the front.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from .components import components
from .edges import side_ends

OPPOSITE = (
    -0.866
)  # cosine of 150 degrees between two faces: more is a sheet seen from both sides; common practice, no source


def shared_backs(
    corners: NDArray[np.int32],
    mates: NDArray[np.int32],
    labels: NDArray[np.int32],
    count: int,
    signed: NDArray[np.float64],
    flat: NDArray[np.bool_],
    faces: NDArray[np.float64],
) -> NDArray[np.bool_] | None:
    """(m,) triangles of regions that are mirrored in the tile and meet the unmirrored rest of their island only at edges where
    that faces the other way; None where there are none. No backs are: a fold in a surface that goes on, whose faces look the
    same way; a turned face, which runs along the edge as its neighbour does; and the far half of a thing that was projected
    flat, which meets the near half in blunt edges as well.

    corners, mates, labels, count: of `islands.label_islands`. signed, flat: UV areas, and which are none. faces: (3, m)
    products of two sides, along the front.
    """
    mirrored = (signed < 0.0) & ~flat & (labels >= 0)
    if not mirrored.any():
        return None
    upright = (signed > 0.0) & ~flat & (labels >= 0)
    mixed = np.zeros(count + 1, np.bool_)
    mixed[labels[mirrored]] = True
    unmirrored = np.zeros(count + 1, np.bool_)
    unmirrored[labels[upright]] = True
    mixed &= unmirrored
    mixed[count] = False  # label -1 reads it
    chosen = mixed[labels]
    if not chosen.any():
        return None
    sides = np.flatnonzero(np.repeat(chosen, 3) & (mates >= 0))
    triangle = sides // 3
    unit = faces[:, triangle] / np.maximum(np.sqrt((faces[:, triangle] ** 2).sum(axis=0)), np.finfo(float).tiny)
    start, end = side_ends(np.ascontiguousarray(corners))
    up = (start[sides] < end[sides]).astype(np.int64)  # which way each side runs along its edge
    names, edge = np.unique(mates[sides], return_inverse=True)
    front = upright[triangle]
    there = np.bincount((2 * edge + up)[front], minlength=2 * len(names)) > 0
    towards = np.stack(
        [np.bincount((2 * edge + up)[front], weights=unit[axis, front], minlength=2 * len(names)) for axis in range(3)]
    )  # of all fronts together that run along an edge one way
    facing, beside = there[2 * edge + 1 - up], there[2 * edge + up]
    towards = towards[:, 2 * edge + 1 - up]
    opposite = facing & ((unit * towards).sum(axis=0) < OPPOSITE * np.sqrt((towards**2).sum(axis=0)))
    region, regions = _regions(triangle, edge, mirrored)
    meets, goes_on = np.zeros(regions, np.bool_), np.zeros(regions, np.bool_)
    back = mirrored[triangle]
    meets[region[triangle[back & opposite]]] = True
    goes_on[region[triangle[back & ~opposite & (facing | beside)]]] = True
    found: NDArray[np.bool_] = mirrored & chosen & (meets & ~goes_on)[region]
    return found if found.any() else None


def _regions(
    triangle: NDArray[np.int64], edge: NDArray[np.int64], mirrored: NDArray[np.bool_]
) -> tuple[NDArray[np.int32], int]:
    """What hangs together of mirrored triangles over the edges they share. triangle, edge: of each side."""
    rows = np.flatnonzero(mirrored[triangle])
    order = rows[np.argsort(edge[rows], kind="stable")]
    same = np.flatnonzero(edge[order][1:] == edge[order][:-1])
    return components(triangle[order[same]], triangle[order[same + 1]], len(mirrored))
