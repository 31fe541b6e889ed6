"""Triangles of one body that lie on those of another one and face the same way: an object that was copied and left in place."""

from __future__ import annotations

from collections.abc import Sequence
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from tidegate.geometry.matching import ids_of, representatives
from tidegate.geometry.topology import drawn_triangles
from tidegate.geometry.weld import point_ids

if TYPE_CHECKING:
    from tidegate.measure.topology import Body

_CELLS = 97_531.0  # to a metre: places in one cell are one. No round number, so that round coordinates lie inside their cells
_ODD = (np.uint64(0x9E3779B97F4A7C15), np.uint64(0xC2B2AE3D27D4EB4F), np.uint64(0x165667B19E3779F9))


class Coincident:
    """bodies: those of one file and role, in canonical order. Of bodies that share a triangle, the first one keeps it.

    Measured when first asked for and kept. Places agree to about a hundredth of a millimetre: nodes that put two things on one
    spot by different transforms leave them a few bits apart.
    """

    def __init__(self, bodies: Sequence[Body]) -> None:
        self._bodies = tuple(bodies)
        self._number = {id(body): number for number, body in enumerate(self._bodies)}

    @cached_property
    def _shared(self) -> tuple[NDArray[np.int64], NDArray[np.int64], NDArray[np.int64]]:
        """Of the triangles that lie in several bodies, body by body: body, row, and the first body that has one there."""
        none = np.zeros(0, np.int64)
        if len(self._bodies) < 2:
            return none, none, none
        key = np.concatenate([_hashes(body.xyz) for body in self._bodies])
        ordered = np.sort(key)
        again = np.unique(ordered[1:][ordered[1:] == ordered[:-1]])
        if not len(again):
            return none, none, none
        found = np.flatnonzero(again[np.minimum(np.searchsorted(again, key), len(again) - 1)] == key)
        starts = np.cumsum([0, *(body.triangles for body in self._bodies)])
        body = np.searchsorted(starts, found, side="right") - 1
        row = found - starts[body]
        those, begin = np.unique(body, return_index=True)
        rows = np.split(row, begin[1:])
        xyz = np.concatenate([self._bodies[b].xyz[:, :, own] for b, own in zip(those, rows, strict=True)], axis=2)
        corners = point_ids(_cells(xyz).transpose(2, 0, 1).reshape(-1, 3))[0].reshape(-1, 3)
        # The lowest corner first: what follows it tells which way the triangle faces.
        turn = (np.argmin(corners, axis=1)[:, None] + np.arange(3)) % 3
        low, after, third = np.take_along_axis(corners, turn, axis=1).astype(np.uint64).T
        group, groups = ids_of(representatives([low << np.uint64(32) | after, third]))
        first, last = np.full(groups, len(self._bodies)), np.full(groups, -1)
        np.minimum.at(first, group, body)
        np.maximum.at(last, group, body)
        several = (first != last)[group] & drawn_triangles(corners.astype(np.int32))
        return body[several], row[several], first[group[several]]

    def copies(self, body: Body) -> NDArray[np.int64]:
        """Rows of the body's triangles that an earlier body has as well, ascending."""
        row, first = self._own(body)
        copies: NDArray[np.int64] = row[first != self._number[id(body)]]
        return copies

    def with_originals(self, body: Body) -> NDArray[np.int64]:
        """Rows of the body's triangles that another body has as well, ascending."""
        return self._own(body)[0]

    def originals(self, body: Body) -> tuple[Body, ...]:
        """The bodies that keep what this one has copies of."""
        first = self._own(body)[1]
        return tuple(self._bodies[one] for one in np.unique(first[first != self._number[id(body)]]).tolist())

    def _own(self, body: Body) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
        """Rows of the body's triangles that another body has as well, ascending, and the first body that has each."""
        of, row, first = self._shared
        start, stop = np.searchsorted(of, (self._number[id(body)], self._number[id(body)] + 1))
        return row[start:stop], first[start:stop]


def _cells(xyz: NDArray[np.float64]) -> NDArray[np.float64]:
    return np.asarray(np.rint(xyz * _CELLS))


def _hashes(xyz: NDArray[np.float64]) -> NDArray[np.uint64]:
    """(m,) a number for the three places of each triangle, whatever their order."""
    total = np.zeros(xyz.shape[2], np.uint64)
    for corner in _cells(xyz):
        mixed = np.zeros(len(total), np.uint64)
        for axis, odd in zip(corner, _ODD, strict=True):
            mixed += (axis + 0.0).view(np.uint64) * odd  # -0.0 + 0.0 is 0.0
            mixed ^= mixed >> np.uint64(29)
        mixed *= _ODD[0]
        mixed ^= mixed >> np.uint64(32)
        total += mixed
    return total
