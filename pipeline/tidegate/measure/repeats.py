"""Triangles of a body that lie on the same three positions as another one."""

from __future__ import annotations

from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from tidegate.geometry import topology
from tidegate.geometry.crossed_quads import crossed_quads
from tidegate.geometry.matching import representatives


class Repeats:
    """corners, mates: of `geometry.topology`; crowded: sides of edges with more than two triangles; polygon: number of each
    triangle's polygon, or None. faces: (3, m) products of two sides. turned: sides of turned edges. flat: (m,)
    triangles of closed pieces without volume.

    same: rows on the corners of an earlier one, facing the same way; opposite: facing the other way. Both in any order, and
    with them those of quads cut along the other diagonal.
    """

    def __init__(
        self,
        corners: NDArray[np.int32],
        mates: NDArray[np.int32],
        crowded: NDArray[np.int64],
        polygon: NDArray[np.int32] | None,
        faces: NDArray[np.float64],
        turned: NDArray[np.int64],
        flat: NDArray[np.bool_],
    ) -> None:
        # Two triangles on the same three corners share three edges. Where no third one lies on them, each edge is named
        # after a side of one of the two, so one of the two has two sides or more that are named after the other.
        named = mates.reshape(-1, 3) // 3
        own = np.arange(len(named), dtype=np.int32)
        a, b, c = named[:, 0], named[:, 1], named[:, 2]
        likely = (((a == b) | (c == a)) & (a != own) & (a >= 0)) | ((b == c) & (b != own) & (b >= 0))
        likely[named[likely].reshape(-1)] = True
        if polygon is not None:
            likely |= np.bincount(polygon)[polygon] > 2  # it has a diagonal more, which it shares with no copy
        if len(crowded):
            sides = np.zeros(len(mates), np.bool_)
            sides[crowded] = True
            likely |= (sides[mates] & (mates >= 0)).reshape(-1, 3).any(axis=1)
        self._corners = corners
        self._rows = rows = np.flatnonzero(likely)
        same, opposite = (rows[found] for found in topology.repeated_triangles(corners[rows]))
        # Which triangle comes first must not decide: of several that face the other way, all but one are copies.
        again, _ = topology.repeated_triangles(corners[opposite])
        looked_at = flat.copy()
        if len(crowded) or len(turned):
            odd = np.zeros(len(mates), np.bool_)
            odd[crowded] = odd[turned] = True
            looked_at |= (odd[mates] & (mates >= 0)).reshape(-1, 3).any(axis=1)
        self._quads, self._alike = crossed_quads(corners, mates, faces, looked_at)
        later = self._quads[:, 1].reshape(-1, 2)
        self.same: NDArray[np.int64] = np.union1d(np.append(same, opposite[again]), later[self._alike])
        self.opposite: NDArray[np.int64] = np.union1d(np.delete(opposite, again), later[~self._alike])

    def with_originals(self, same: bool) -> NDArray[np.int64]:
        """Rows of `same` or `opposite` with every triangle that lies on their corners, ascending."""
        place = self._place
        chosen = np.zeros(len(self._corners) + 1, np.bool_)
        copies = np.intersect1d(self.same if same else self.opposite, self._rows)
        chosen[place[np.searchsorted(self._rows, copies)]] = True
        quads = self._quads[self._alike if same else ~self._alike]
        found: NDArray[np.int64] = np.union1d(self._rows[chosen[place]], quads)
        return found

    @cached_property
    def _place(self) -> NDArray[np.int64]:
        """For each of the likely rows the number of one row on the same three corners."""
        ordered = np.sort(self._corners[self._rows], axis=1).astype(np.uint64)
        low, middle, high = (np.ascontiguousarray(ordered[:, axis]) for axis in range(3))
        return representatives([low << np.uint64(32) | middle, high]).astype(np.int64)
