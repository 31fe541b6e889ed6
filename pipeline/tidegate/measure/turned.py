"""Which faces are the turned ones, where neighbours face opposite ways."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from tidegate.geometry.areas import cross_products
from tidegate.geometry.components import components
from tidegate.geometry.edges import edge_faces

_AS_LARGE = 1.0 - 1e-6  # of the largest region: as large, within rounding


def turned_triangles(
    corners: NDArray[np.int32],
    mates: NDArray[np.int32],
    turned: NDArray[np.int64],
    piece: NDArray[np.int32],
    xyz: NDArray[np.float64],
) -> NDArray[np.int64]:
    """Rows of the triangles that show their back, as far as that can be told.

    A region is what hangs together across edges whose two triangles agree. Of the regions that meet at turned edges, the
    largest of its piece is taken to be right, and those beside it to be turned. Of several that are as large, as when half
    of a thing was mirrored, those are turned whose faces look towards the middle of the piece.
    turned: sides of turned edges. piece: (m,) piece of each triangle. xyz: (3, 3, m) corner columns.
    """
    count = len(corners)
    wrong = np.zeros(len(mates), np.bool_)
    wrong[turned] = True
    shared = mates >= 0
    at_wrong = np.zeros(len(mates), np.bool_)
    at_wrong[shared] = wrong[mates[shared]]
    agree = np.flatnonzero((edge_faces(mates) == 2) & (mates != np.arange(len(mates))) & ~at_wrong)
    region, regions = components(agree // 3, mates[agree].astype(np.int64) // 3, count)
    face = cross_products(xyz)
    area = np.bincount(region, weights=np.sqrt((face * face).sum(axis=0)), minlength=regions)
    meets = np.zeros(regions, np.bool_)
    meets[region[np.flatnonzero(at_wrong) // 3]] = True
    of = np.zeros(regions, np.int64)
    of[region] = piece
    largest = np.zeros(int(piece.max(initial=-1)) + 1)
    np.maximum.at(largest, of[meets], area[meets])
    as_large = meets & (area >= _AS_LARGE * largest[of])
    rivals = np.bincount(of[as_large], minlength=len(largest))[of] > 1
    looks_in = np.bincount(region, weights=_outwards(xyz, face, piece, len(largest)), minlength=regions) < 0.0
    bad = meets & np.where(as_large, rivals & looks_in, True)
    return np.flatnonzero(bad[region])


def _outwards(
    xyz: NDArray[np.float64], face: NDArray[np.float64], piece: NDArray[np.int32], pieces: int
) -> NDArray[np.float64]:
    """(m,) how much each triangle looks away from the middle of its piece's box, by its area."""
    low, high = np.full((pieces, 3), np.inf), np.full((pieces, 3), -np.inf)
    for axis in range(3):
        np.minimum.at(low[:, axis], piece, xyz[:, axis].min(axis=0))
        np.maximum.at(high[:, axis], piece, xyz[:, axis].max(axis=0))
    middle = ((low + high) / 2.0)[piece].T
    outwards: NDArray[np.float64] = ((xyz.mean(axis=0) - middle) * face).sum(axis=0)
    return outwards
