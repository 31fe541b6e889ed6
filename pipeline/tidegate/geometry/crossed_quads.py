"""Quads that lie on the four corners of another one and were cut along the other diagonal, so that no triangle repeats."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from .edges import edge_faces

FLAT = 0.98  # cosine of 11 degrees between the two triangles of a quad: bent further, the two enclose a space


def crossed_quads(
    corners: NDArray[np.int32], mates: NDArray[np.int32], faces: NDArray[np.float64], chosen: NDArray[np.bool_]
) -> tuple[NDArray[np.int64], NDArray[np.bool_]]:
    """(k, 2, 2) the two triangles of one quad and those of the other, and whether (k,) they face the same way.

    corners, mates: of `geometry.topology`. faces: (3, m) products of two sides, along the front. chosen: (m,) triangles one of
    which a quad has to have. Of three quads and more on four corners nothing is said.
    """
    none = np.zeros((0, 2, 2), np.int64), np.zeros(0, np.bool_)
    if not chosen.any():
        return none
    second = np.flatnonzero((mates != np.arange(len(mates), dtype=np.int32)) & (edge_faces(mates) == 2))
    second = second[chosen[second // 3] | chosen[mates[second] // 3]]
    first = mates[second].astype(np.int64)
    if len(first) < 2:
        return none
    unit = faces / np.maximum(np.sqrt((faces**2).sum(axis=0)), np.finfo(float).tiny)
    ids = corners.reshape(-1).astype(np.int64)
    flat = (unit[:, first // 3] * unit[:, second // 3]).sum(axis=0) >= FLAT
    flat &= ids[first] == ids[second - second % 3 + (second % 3 + 1) % 3]  # one each way: they lie side by side
    first, second = first[flat], second[flat]
    ends = np.sort(np.stack([ids[first], ids[first - first % 3 + (first % 3 + 1) % 3]], axis=1), axis=1)
    tips = [ids[side - side % 3 + (side % 3 + 2) % 3] for side in (first, second)]
    four = np.sort(np.concatenate([ends, np.stack(tips, axis=1)], axis=1), axis=1)
    order = np.lexsort((*ends.T, *four.T))
    opens = np.flatnonzero(np.append(True, (four[order][1:] != four[order][:-1]).any(axis=1))) if len(order) else order
    pairs = opens[np.diff(np.append(opens, len(order))) == 2]
    one, other = order[pairs], order[pairs + 1]
    crossed = (ends[one] != ends[other]).all(axis=1) & (ends[one] != ends[other][:, ::-1]).all(axis=1)
    crossed &= (np.diff(four[one], axis=1) > 0).all(axis=1)
    one, other = one[crossed], other[crossed]
    quads = np.stack([np.stack([first[q] // 3, second[q] // 3], axis=1) for q in (one, other)], axis=1)
    same = (unit[:, quads[:, 0, 0]] * unit[:, quads[:, 1, 0]]).sum(axis=0) > 0.0
    # Of two that face each their own way the second is the one that looks back, down or left, whatever their numbers.
    looks = np.round(unit[:, quads[:, 0, 0]], 6)
    leads = np.where(looks[2] != 0, looks[2], np.where(looks[1] != 0, looks[1], looks[0]))
    quads[~same & (leads < 0)] = quads[~same & (leads < 0)][:, ::-1]
    return quads, same
