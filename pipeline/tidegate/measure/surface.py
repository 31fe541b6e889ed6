"""Corners, faces, areas and welded positions of one mesh part, computed once for everything that looks at its surface."""

from __future__ import annotations

from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from tidegate.geometry.areas import areas_of, cross_products
from tidegate.geometry.corners import corner_columns
from tidegate.geometry.weld import point_ids
from tidegate.model.mesh import MeshPart


class Surface:
    """mesh: the part. Columns are computed when first asked for and kept."""

    def __init__(self, mesh: MeshPart) -> None:
        self.mesh = mesh

    @cached_property
    def xyz(self) -> NDArray[np.float64]:
        """(3, 3, m) corner columns in metres."""
        return corner_columns(self.mesh.positions, self.mesh.triangles)

    @cached_property
    def faces(self) -> NDArray[np.float64]:
        """(3, m) cross product of two sides of each triangle: along its front, twice its area long."""
        return cross_products(self.xyz)

    @cached_property
    def areas(self) -> NDArray[np.float64]:
        """(m,) square metres."""
        return areas_of(self.faces)

    @cached_property
    def welded(self) -> tuple[NDArray[np.int32], int]:
        """Id of every position, equal where positions are, and how many different ones there are."""
        return point_ids(self.mesh.positions)

    @cached_property
    def corners(self) -> NDArray[np.int32]:
        """(m, 3) ids of the positions of every triangle."""
        return np.take(self.welded[0], self.mesh.triangles)
