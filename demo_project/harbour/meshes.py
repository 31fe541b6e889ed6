"""Laid panels to arrays of vertices, by material."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from .layout import Laid
from .panels import Panel


@dataclass(frozen=True)
class Mesh:
    """positions (n, 3) metres, normals (n, 3), uv (n, 2) V up or None, triangles (m, 3)."""

    material: str
    positions: NDArray[np.float32]
    normals: NDArray[np.float32]
    uv: NDArray[np.float32] | None
    triangles: NDArray[np.uint32]


def build(laid: Sequence[Laid], size: int, material: str) -> Mesh:
    """One mesh of all panels laid out on one map of `size` texels."""
    pieces = [(item.panel, item.texels(item.panel.corners[:, 0], item.panel.corners[:, 1]) / size) for item in laid]
    return _joined(pieces, material)


def bare(panels: Sequence[Panel], material: str = "") -> Mesh:
    """The same without UVs, for collision."""
    return _joined([(panel, None) for panel in panels], material)


def _joined(pieces: Sequence[tuple[Panel, NDArray[np.float64] | None]], material: str) -> Mesh:
    positions, normals, uvs, triangles = [], [], [], []
    start = 0
    for panel, uv in pieces:
        # Rounded to the micrometre, so that panels that meet agree in every bit and the surface is closed.
        points = np.round(panel.place(panel.corners[:, 0], panel.corners[:, 1]), 6) + 0.0
        positions.append(points)
        normals.append(_smooth(points, panel.triangles))
        if uv is not None:
            uvs.append(uv)
        triangles.append(panel.triangles + start)
        start += len(points)
    return Mesh(
        material,
        np.concatenate(positions).astype(np.float32),
        np.concatenate(normals).astype(np.float32),
        np.concatenate(uvs).astype(np.float32) if uvs else None,
        np.concatenate(triangles).astype(np.uint32),
    )


def _smooth(points: NDArray[np.float64], triangles: NDArray[np.int64]) -> NDArray[np.float64]:
    a, b, c = (points[triangles[:, k]] for k in range(3))
    face = np.cross(b - a, c - a)
    normals = np.zeros_like(points)
    for corner in range(3):
        np.add.at(normals, triangles[:, corner], face)
    return normals / np.linalg.norm(normals, axis=1, keepdims=True)
