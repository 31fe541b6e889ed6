"""A place well inside every island, for its number and its marker."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray


class InnerPoints(NamedTuple):
    """x, y: (i,) place in pixels, NaN for islands that show nowhere. reach_x, reach_y: (i,) pixels free on either side
    and above and below it."""

    x: NDArray[np.float64]
    y: NDArray[np.float64]
    reach_x: NDArray[np.float64]
    reach_y: NDArray[np.float64]


def inner_points(owner: NDArray[np.int32], count: int) -> InnerPoints:
    """For each label 0..count of an owner grid (-1 nobody): the texel where the largest upright cross fits, the one
    nearest to the middle of the island when several do."""
    across = _reach(owner)
    upward = np.ascontiguousarray(_reach(np.ascontiguousarray(owner.T)).T)
    flat = owner.reshape(-1)
    shown = np.flatnonzero(flat >= 0)
    label = flat[shown].astype(np.int64)
    width = owner.shape[1]
    px, py = shown % width, shown // width
    size = np.maximum(np.bincount(label, minlength=count), 1)
    middle_x = np.bincount(label, px, count) / size
    middle_y = np.bincount(label, py, count) / size
    fit = np.minimum(across.reshape(-1)[shown], upward.reshape(-1)[shown]).astype(np.float64)
    away = np.hypot(px - middle_x[label], py - middle_y[label])
    # A cross a little smaller but nearer to the middle looks better placed.
    score = fit - 0.1 * away
    best = np.full(count, -np.inf)
    np.maximum.at(best, label, score)
    top = np.flatnonzero(score == best[label])
    found = np.full(count, -1, np.int64)
    found[label[top][::-1]] = shown[top][::-1]  # the first of equals is written last
    there = found >= 0
    at = np.maximum(found, 0)
    nothing = np.full(count, np.nan)
    return InnerPoints(
        np.where(there, at % width + 0.5, nothing),
        np.where(there, at // width + 0.5, nothing),
        np.where(there, across.reshape(-1)[at], 0).astype(np.float64),
        np.where(there, upward.reshape(-1)[at], 0).astype(np.float64),
    )


def _reach(grid: NDArray[np.int32]) -> NDArray[np.int32]:
    """For each texel, how many texels of the same owner follow on the shorter side of its row, itself included."""
    height, width = grid.shape
    column = np.broadcast_to(np.arange(width, dtype=np.int32), (height, width))
    change = np.ones((height, width), np.bool_)
    change[:, 1:] = grid[:, 1:] != grid[:, :-1]
    begin = np.maximum.accumulate(np.where(change, column, 0), axis=1)
    last = np.ones((height, width), np.bool_)
    last[:, :-1] = change[:, 1:]
    end = np.minimum.accumulate(np.where(last, column, width)[:, ::-1], axis=1)[:, ::-1]
    reach: NDArray[np.int32] = np.minimum(column - begin, end - column) + 1
    return reach
