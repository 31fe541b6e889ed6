"""Pieces of a body: what hangs together by positions, whether it is closed, its volume and its dents."""

from __future__ import annotations

from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from tidegate.geometry import topology
from tidegate.geometry.edges import edge_faces
from tidegate.geometry.slivers import SINGLE_SPACING, sum_of_squares
from tidegate.measure.rounding import significant

if TYPE_CHECKING:
    from tidegate.measure.topology import Body

_NO_VOLUME = 1e-9  # of a cube as wide as the piece is from corner to corner
_FLAT_NOISE = 1e-4  # thinner triangles have no plane to measure a dent against


class PieceColumns:
    """Pieces of a body that share no position with one another, one row a piece, ordered by box, then triangles.

    low, high: (i, 3) metres. closed: no open, crowded or turned edge. volume: (i,) cubic metres, positive where fronts
    face outwards, 0 for pieces that are not closed. dent: (i,) metres by which a face's neighbour stands in front of
    it at most, 0 for a convex piece. flat: pieces without any extent along an axis.
    """

    def __init__(self, body: Body) -> None:
        found = topology.pieces(body.corners, body.ids)
        label, count = found.label, found.total
        faults = body.edge_faults
        closed = topology.closed_pieces(label, count, faults)
        volume = _volumes(body.xyz, label, closed)
        low, high = np.full((count, 3), np.inf), np.full((count, 3), -np.inf)
        if count == 1 and body.xyz.shape[2]:
            low[0], high[0] = body.xyz.min(axis=(0, 2)), body.xyz.max(axis=(0, 2))
        else:
            for axis in range(3):
                np.minimum.at(low[:, axis], label, body.xyz[:, axis].min(axis=0))
                np.maximum.at(high[:, axis], label, body.xyz[:, axis].max(axis=0))
        triangles = np.bincount(label, minlength=count)
        order = np.lexsort((triangles, *(high[:, axis] for axis in (2, 1, 0)), *(low[:, axis] for axis in (2, 1, 0))))
        self._rank = np.empty(count, np.int64)
        self._rank[order] = np.arange(count)
        self.label = label
        self._body = body
        self.triangles: NDArray[np.int64] = triangles[order]
        self.closed: NDArray[np.bool_] = closed[order]
        self.low: NDArray[np.float64] = low[order]
        self.high: NDArray[np.float64] = high[order]
        # A closed piece may be flat, as two triangles back to back: rounding must not give it a sign. Files store single
        # precision, so corners stray by that much of their distance from the origin, and the volume by as much of the surface.
        reach = np.maximum(np.abs(self.low), np.abs(self.high)).max(axis=1, initial=0.0)
        area = np.bincount(label, weights=0.5 * lengths(body.faces), minlength=count)[order]
        told = np.abs(volume[order]) > np.maximum(_NO_VOLUME * self.diagonal**3, SINGLE_SPACING * reach * area)
        self.volume: NDArray[np.float64] = significant(np.where(told, volume[order], 0.0))

    def __len__(self) -> int:
        return len(self.triangles)

    @property
    def row(self) -> NDArray[np.int64]:
        """(m,) piece of each triangle."""
        return self._rank[self.label]

    def inwards(self, smallest_m: float) -> NDArray[np.bool_]:
        """(i,) closed pieces that are inside out, and no shorter than that from corner to corner."""
        return self.closed & (self.volume < 0.0) & (self.diagonal >= smallest_m)

    @cached_property
    def diagonal(self) -> NDArray[np.float64]:
        """(i,) metres from corner to corner of each piece's box."""
        length: NDArray[np.float64] = np.sqrt(((self.high - self.low) ** 2).sum(axis=1))
        return length

    @cached_property
    def dent(self) -> NDArray[np.float64]:
        """(i,) metres. A closed surface that bulges outwards at every edge is convex, so edges alone tell."""
        body = self._body
        deepest = np.zeros(len(self))
        second = np.flatnonzero((edge_faces(body.mates) == 2) & (body.mates != np.arange(len(body.mates))))
        first = body.mates[second].astype(np.int64)
        normal = body.faces
        size = lengths(normal)
        sound = (size > 0.0) & (body.thin > _FLAT_NOISE)
        for here, there in ((first, second), (second, first)):
            kept = sound[here // 3]
            face, other = here[kept] // 3, there[kept] // 3
            tip = body.xyz[(there[kept] % 3 + 2) % 3, :, other].T
            ahead = ((tip - body.xyz[0][:, face]) * normal[:, face]).sum(axis=0) / size[face]
            np.maximum.at(deepest, self._rank[self.label[face]], ahead)
        return significant(np.where(deepest > _NO_VOLUME * self.diagonal, deepest, 0.0))


def _volumes(xyz: NDArray[np.float64], label: NDArray[np.int32], closed: NDArray[np.bool_]) -> NDArray[np.float64]:
    """(count,) volumes of the closed pieces, 0 for the others."""
    if not closed.any():
        return np.zeros(len(closed))
    if closed.all():
        return topology.signed_volumes(xyz, label, len(closed))
    kept = np.flatnonzero(closed[label])
    return topology.signed_volumes(xyz[:, :, kept], label[kept], len(closed))


def lengths(vectors: NDArray[np.float64]) -> NDArray[np.float64]:
    """(m,) length of the vectors (3, m)."""
    return np.sqrt(sum_of_squares(vectors))
