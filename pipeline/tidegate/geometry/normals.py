"""Vertex normals against unit length and against the face they shade."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from .areas import cross_products


def normal_lengths(normals: NDArray[np.float64]) -> NDArray[np.float64]:
    """(p,) length of each normal (p, 3); NaN or inf where a component is."""
    lengths: NDArray[np.float64] = np.sqrt((normals * normals).sum(axis=1))
    return lengths


def zero_normals(lengths: NDArray[np.float64]) -> NDArray[np.bool_]:
    """(p,) whether a normal has no direction: zero length, or not finite."""
    return ~(lengths > 1e-6) | ~np.isfinite(lengths)


def not_unit(lengths: NDArray[np.float64], tolerance: float = 0.0005) -> NDArray[np.bool_]:
    """(p,) whether a normal that has a direction is longer or shorter than 1 by more than the tolerance."""
    return ~zero_normals(lengths) & ~(np.abs(lengths - 1.0) <= tolerance)


def normal_to_face(
    xyz: NDArray[np.float64], normals: NDArray[np.float64], normal_triangles: NDArray[np.int32]
) -> NDArray[np.float64]:
    """(m,) degrees by which the farthest of a triangle's three normals leans away from its face; above 90 it points behind.

    xyz: (3, 3, m) corner columns; normals: (p, 3), of any length; normal_triangles: (m, 3) into them, -1 where absent.
    NaN for a triangle without area, or where a normal is absent or has no direction.
    """
    face = cross_products(xyz)
    size = np.sqrt((face * face).sum(axis=0))
    lengths = normal_lengths(normals)
    zero = zero_normals(lengths)
    worst = np.full(xyz.shape[2], np.inf)
    if len(normals) == 0:
        return np.full(xyz.shape[2], np.nan)
    unknown = ~(size > 0.0)
    with np.errstate(divide="ignore", invalid="ignore"):
        for corner in range(3):
            rows = normal_triangles[:, corner]
            absent = rows < 0
            picked = normals[rows]
            cosine = (face[0] * picked[:, 0] + face[1] * picked[:, 1] + face[2] * picked[:, 2]) / (size * lengths[rows])
            unknown |= absent | zero[rows]
            worst = np.minimum(worst, cosine)
        degrees: NDArray[np.float64] = np.degrees(np.arccos(np.clip(worst, -1.0, 1.0)))
    degrees[unknown] = np.nan
    return degrees
