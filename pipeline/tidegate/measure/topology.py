"""How the surface of each mesh hangs together, measured over positions: borders, crowded edges, fans, winding, pieces.

A body is one mesh placed by one node: its parts differ by material only, and a surface goes on where the material
changes. Positions are welded bit for bit, so vertices split for normals or UVs change nothing here.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from tidegate.geometry import topology
from tidegate.geometry.areas import cross_products
from tidegate.geometry.borders import side_points
from tidegate.geometry.corners import corner_columns
from tidegate.geometry.cracks import left_out_triangles, unwelded_sides
from tidegate.geometry.polygon_edges import polygon_numbers
from tidegate.geometry.quads import dihedral_degrees, polygon_diagonals
from tidegate.geometry.slivers import SINGLE_SPACING, thinness, without_area
from tidegate.geometry.weld import point_ids
from tidegate.measure.coincident import Coincident
from tidegate.measure.pieces import PieceColumns, lengths
from tidegate.measure.repeats import Repeats
from tidegate.measure.spots import Spots, runs_of, spots_of
from tidegate.measure.surface import Surface
from tidegate.measure.turned import turned_triangles
from tidegate.model.facts import PartFacts
from tidegate.model.mesh import MeshPart

THIN = 0.1  # height over longest side from which on a triangle is not looked at as a sliver
BENT = 0.5  # degrees below which a polygon counts as flat, whatever a rule says


class Body:
    """One mesh at one node. parts: indices into `Facts.parts`; file, role, node, mesh: theirs, which they share.

    Everything is measured when first asked for and kept, so a rule set pays for what it looks at.
    """

    def __init__(self, parts: tuple[int, ...], facts: PartFacts, surfaces: Sequence[Surface]) -> None:
        self.parts = parts
        self.file, self.role, self.node, self.mesh = facts.file, facts.role, facts.node, facts.mesh
        self._surfaces = tuple(surfaces)
        self._meshes = tuple(surface.mesh for surface in surfaces)
        self._kept: NDArray[np.bool_] | None = None  # triangles of all parts, where some were left out
        self.beside = Coincident((self,))  # the bodies of its file and role

    @cached_property
    def _welded(self) -> tuple[NDArray[np.float64], NDArray[np.int32], NDArray[np.int32], int]:
        """Positions, triangles into them, welded corners, and how many different positions. Triangles with a position
        that is no number are left out (`_kept`): the reader has told of them."""
        if len(self._meshes) == 1:
            points, triangles = self._meshes[0].positions, self._meshes[0].triangles
        else:
            starts = np.cumsum([0, *(len(part.positions) for part in self._meshes)])
            points = np.concatenate([part.positions for part in self._meshes])
            triangles = np.concatenate(
                [part.triangles + np.int32(start) for part, start in zip(self._meshes, starts, strict=False)]
            )
        finite: NDArray[np.bool_] = np.asarray(np.isfinite(points).all(axis=1))
        if not finite.all():
            self._kept = np.asarray(finite[triangles].all(axis=1))
            triangles = triangles[self._kept]
        if triangles is self._meshes[0].triangles:
            return points, triangles, self._surfaces[0].corners, self._surfaces[0].welded[1]
        ids, count = point_ids(points)
        return points, triangles, np.take(ids, triangles), count

    @property
    def corners(self) -> NDArray[np.int32]:
        """(m, 3) ids of positions."""
        return self._welded[2]

    @property
    def ids(self) -> int:
        """How many different positions."""
        return self._welded[3]

    @property
    def triangles(self) -> int:
        return len(self._welded[2])

    @cached_property
    def xyz(self) -> NDArray[np.float64]:
        """(3, 3, m) corner columns in metres."""
        points, triangles, _, _ = self._welded
        return self._surfaces[0].xyz if self._is_whole else corner_columns(points, triangles)

    @cached_property
    def faces(self) -> NDArray[np.float64]:
        """(3, m) cross product of two sides of each triangle: along its front, twice its area long."""
        return self._surfaces[0].faces if self._is_whole else cross_products(self.xyz)

    @property
    def _is_whole(self) -> bool:
        """It is one part, none of whose triangles was left out."""
        return len(self._meshes) == 1 and self._welded[1] is self._meshes[0].triangles

    @cached_property
    def mates(self) -> NDArray[np.int32]:
        return topology.topology_mates(self.corners, self.polygon)

    @cached_property
    def polygon(self) -> NDArray[np.int32] | None:
        """(m,) number of the polygon that each triangle was cut from, or None where the file has triangles only."""
        number = polygon_numbers(
            [part.polygon for part in self._meshes], [len(part.triangles) for part in self._meshes]
        )
        if number is None:
            return None
        corners = self.corners
        return number if len(corners) == len(number) else number[self._kept]

    def ahead(self) -> None:
        """Measures what rules about meshes start from, so that it is at hand when they ask."""
        self.edge_faults, self.pieces, self._repeats.same, self._flat  # noqa: B018 - measured when first asked for, and kept

    @cached_property
    def edge_faults(self) -> topology.EdgeFaults:
        return topology.edge_faults(self.corners, self.mates)

    @cached_property
    def open(self) -> Spots:
        """Edges with one triangle."""
        return self._edges(self.edge_faults.open)

    @cached_property
    def left_out(self) -> Spots:
        """Holes as large as one triangle, in pieces that are closed but for those."""
        loops = left_out_triangles(self.corners, self.edge_faults.open, self.pieces.label)
        return spots_of(np.sort(self.xyz[loops % 3, :, loops // 3], axis=1).mean(axis=1))

    def unwelded(self, reach: float) -> Spots:
        """Open edges that lie along another one within so many metres at both ends, one of each two."""
        return self._edges(unwelded_sides(self.xyz, self.faces, self.corners, self.edge_faults.open, reach))

    @cached_property
    def crowded(self) -> Spots:
        """Edges with more than two triangles."""
        return self._edges(self.edge_faults.crowded)

    @cached_property
    def turned(self) -> Spots:
        """Edges whose two triangles face opposite ways."""
        return self._edges(self.edge_faults.turned)

    @cached_property
    def pinched(self) -> Spots:
        """Positions where more than one fan of triangles meets."""
        ids = topology.split_fans(self.corners, self.mates)
        found = np.zeros(self.ids, np.bool_)
        found[ids] = True
        where = np.flatnonzero(found[self.corners.reshape(-1)])
        one = np.zeros(self.ids, np.int64)
        one[self.corners.reshape(-1)[where]] = where
        sides = one[ids]
        return spots_of(self.xyz[sides % 3, :, sides // 3])

    @cached_property
    def _repeats(self) -> Repeats:
        pieces = self.pieces
        flat = (pieces.closed & (pieces.volume == 0.0))[pieces.row]
        faults = self.edge_faults
        return Repeats(self.corners, self.mates, faults.crowded, self.polygon, self.faces, faults.turned, flat)

    @property
    def doubled(self) -> Spots:
        """Triangles on the corners of another one of this body, or of one before it, facing the same way."""
        return self._faces(np.union1d(self._repeats.same, self.beside.copies(self)))

    @property
    def back_to_back(self) -> Spots:
        """Triangles on the corners of another one, facing the other way."""
        return self._faces(self._repeats.opposite)

    def faces_of(self, fault: str, smallest_m: float = 0.0) -> tuple[tuple[int, int, int], ...]:
        """Runs of triangles (part, first, stop), for pictures and causes: "doubled" and "back_to_back" with those they lie
        on, "turned" the ones that show their back, "inwards" the pieces of that length or more that are inside out."""
        if fault == "turned":
            rows = turned_triangles(self.corners, self.mates, self.edge_faults.turned, self.pieces.label, self.xyz)
        elif fault == "inwards":
            rows = np.flatnonzero(self.pieces.inwards(smallest_m)[self.pieces.row])
        else:
            rows = self._repeats.with_originals(fault == "doubled")
            if fault == "doubled":
                rows = np.union1d(rows, self.beside.with_originals(self))
        if self._kept is not None and len(self._kept) != len(self.corners):
            rows = np.flatnonzero(self._kept)[rows]
        return runs_of(rows, self.parts, [len(part.triangles) for part in self._meshes])

    @cached_property
    def thin(self) -> NDArray[np.float64]:
        """(m,) height over longest side of each triangle."""
        return thinness(self.xyz)

    @cached_property
    def _flat(self) -> NDArray[np.bool_]:
        flat = np.zeros(self.triangles, np.bool_)
        if not self.triangles:
            return flat
        # No side is longer than 2 sqrt(3) times the reach: most triangles are settled without looking at their sides.
        reach = float(np.abs(self.xyz).max())
        near = np.flatnonzero(lengths(self.faces) <= 4.0 * reach * reach * SINGLE_SPACING)
        flat[near] = without_area(self.xyz[:, :, near])
        return flat

    @cached_property
    def flat(self) -> Spots:
        """Triangles without area."""
        return self._faces(np.flatnonzero(self._flat))

    def slivers(self, below: float) -> Spots:
        """Triangles with area whose height over longest side is below the share (at most THIN)."""
        # Rounded, so that a triangle that is just as thin as the limit passes whichever corner it starts from.
        return self._faces(np.flatnonzero((np.round(self.thin, 9) < min(below, THIN)) & ~self._flat))

    @cached_property
    def pieces(self) -> PieceColumns:
        return PieceColumns(self)

    def bent(self, above: float) -> Spots:
        """Source polygons of four corners and more whose triangles bend along a diagonal by more than so many degrees."""
        found = [self._bent_of(part, max(above, BENT)) for part in self._meshes if part.polygon is not None]
        return spots_of(np.concatenate(found)) if found else spots_of(np.zeros((0, 3)))

    @staticmethod
    def _bent_of(part: MeshPart, above: float) -> NDArray[np.float64]:
        assert part.polygon is not None
        ids, _ = point_ids(part.positions)
        mates = topology.topology_mates(np.ascontiguousarray(ids[part.triangles]), part.polygon)
        xyz = corner_columns(part.positions, part.triangles)
        low, _, degrees = dihedral_degrees(xyz, mates)
        bent = low[polygon_diagonals(part.polygon, mates)[low] & (degrees > above)]
        polygons, first = np.unique(part.polygon[bent // 3], return_index=True)
        sides = bent[first][: len(polygons)]
        return _middles(xyz, sides)

    def _edges(self, sides: NDArray[np.int64]) -> Spots:
        return spots_of(_middles(self.xyz, sides))

    def _faces(self, rows: NDArray[np.int64]) -> Spots:
        return spots_of(np.sort(self.xyz[:, :, rows], axis=0).mean(axis=0).T)


def _middles(xyz: NDArray[np.float64], sides: NDArray[np.int64]) -> NDArray[np.float64]:
    start, end = side_points(xyz, sides)
    middle: NDArray[np.float64] = ((start + end) / 2.0).T
    return middle


def measure_topology(parts: Sequence[PartFacts], surfaces: Sequence[Surface]) -> tuple[Body, ...]:
    """Every body of the prop, in the order of its first part."""
    members: dict[tuple[str, int, str, str], list[int]] = {}
    for index, (part, surface) in enumerate(zip(parts, surfaces, strict=True)):
        members.setdefault((part.file, surface.mesh.node_number, part.node, part.mesh), []).append(index)
    bodies = tuple(Body(tuple(rows), parts[rows[0]], [surfaces[row] for row in rows]) for rows in members.values())
    together: dict[tuple[str, str], list[Body]] = {}
    for body in bodies:
        together.setdefault((body.file, body.role), []).append(body)
    for group in together.values():
        beside = Coincident(group)
        for body in group:
            body.beside = beside
    return bodies
