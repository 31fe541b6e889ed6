"""Connected clusters of scattered texels, by runs: cost follows the number of texels given, not the size of the map."""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray


@dataclass(frozen=True, slots=True, eq=False)
class Clusters:
    """Clusters, the largest first, of equal ones the uppermost first.

    owner, texels: (n,). box: (n, 4) x0, y0, x1, y1, half-open, from the upper left. number_of: (k,) cluster of each texel given.
    """

    owner: NDArray[np.int32]
    texels: NDArray[np.int64]
    box: NDArray[np.int64]
    number_of: NDArray[np.int32]

    def __len__(self) -> int:
        return len(self.owner)


def clusters(place: NDArray[np.int64] | NDArray[np.int32], owner: NDArray[np.int32], width: int) -> Clusters:
    """Texels of one owner that touch by a side or a corner.

    place: flat indices into a map `width` texels wide, rising, none twice. owner: the island of each.
    """
    runs = runs_of(place, owner, width)
    found = clusters_of_runs(runs, width)
    return Clusters(found.owner, found.texels, found.box, np.repeat(found.number_of, runs.length))


class Runs(NamedTuple):
    """Texels of one owner that follow each other in a row: the first of them, how many, whose."""

    start: NDArray[np.int64]
    length: NDArray[np.int64]
    owner: NDArray[np.int32]


def runs_of(place: NDArray[np.int64] | NDArray[np.int32], owner: NDArray[np.int32], width: int) -> Runs:
    """Texels as in `clusters`, gathered into runs."""
    if not len(place):
        none = np.zeros(0, np.int64)
        return Runs(none, none, none.astype(np.int32))
    begins = np.concatenate([[True], (np.diff(place) != 1) | (owner[1:] != owner[:-1]) | (place[1:] % width == 0)])
    first = np.flatnonzero(begins)
    return Runs(place[first].astype(np.int64), np.diff(np.append(first, len(place))), owner[first].astype(np.int32))


def clusters_of_runs(runs: Runs, width: int) -> Clusters:
    """Clusters of runs that rise; number_of is the cluster of each run."""
    start, length, run_owner = runs
    if not len(start):
        none = np.zeros(0, np.int64)
        return Clusters(none.astype(np.int32), none, np.zeros((0, 4), np.int64), none.astype(np.int32))
    root = _joined_runs(start, start + length, run_owner, width)

    roots, number = np.unique(root, return_inverse=True)
    y, x0 = np.divmod(start, width)
    texels = np.bincount(number, weights=length).astype(np.int64)
    box = np.empty((len(roots), 4), np.int64)
    box[:, :2], box[:, 2:] = np.iinfo(np.int64).max, -1
    np.minimum.at(box[:, 0], number, x0)
    np.minimum.at(box[:, 1], number, y)
    np.maximum.at(box[:, 2], number, x0 + length)
    np.maximum.at(box[:, 3], number, y + 1)
    order = np.argsort(-texels, kind="stable")
    rank = np.empty(len(order), np.int32)
    rank[order] = np.arange(len(order), dtype=np.int32)
    return Clusters(run_owner[roots][order], texels[order], box[order], rank[number])


def _joined_runs(
    start: NDArray[np.int64], stop: NDArray[np.int64], owner: NDArray[np.int32], width: int
) -> NDArray[np.int64]:
    """The lowest run each run is connected to."""
    # A run one row down touches when it begins before our end plus one and ends after our begin minus one.
    low = np.searchsorted(stop, start + width - 1, "right")
    high = np.searchsorted(start, stop + width, "right")
    count = np.maximum(high - low, 0)
    upper = np.repeat(np.arange(len(start)), count)
    lower = np.arange(len(upper)) + np.repeat(low - (np.cumsum(count) - count), count)
    real = (owner[upper] == owner[lower]) & (start[lower] // width == start[upper] // width + 1)
    upper, lower = upper[real], lower[real]
    root = np.arange(len(start))
    while True:
        a, b = root[upper], root[lower]
        apart = a != b
        if not apart.any():
            return root
        upper, lower, a, b = upper[apart], lower[apart], a[apart], b[apart]
        np.minimum.at(root, np.maximum(a, b), np.minimum(a, b))
        while True:
            above = root[root]
            if (above == root).all():
                break
            root = above
