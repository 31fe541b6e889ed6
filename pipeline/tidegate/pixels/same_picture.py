"""Whether two maps hold the same picture, perhaps at two sizes."""

from __future__ import annotations

import itertools
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from .samples import Image, as_channels, white

CELLS = 64
NEAR, NEAR_SHARE = (
    2.0,
    0.1,
)  # codes of 8 bits, and share of the contrast, by which cell means may differ on average: another filter
ALIKE = 0.9  # correlation of what remains when each block of cells loses its mean
PLAIN = 2.0  # standard deviation of the cells, codes of 8 bits, below which a picture says too little

_BLOCK = 8


@dataclass(frozen=True, slots=True, eq=False)
class Signature:
    """cells: (CELLS, CELLS, 1 or 3) float32 mean codes on the scale of 8 bits, alpha left out. size: width, height of the map."""

    cells: NDArray[np.float32]
    size: tuple[int, int]


def signature(image: Image) -> Signature:
    """Mean of every cell of a CELLS x CELLS grid over the map. A texel on a border counts for its part on either side, so a
    map and its reduced copy agree whatever their sizes.
    """
    image = as_channels(image)
    height, width, channels = image.shape
    colors = 3 if channels >= 3 else 1
    borders = [at * height / CELLS for at in range(CELLS + 1)]
    cells = np.empty((CELLS, CELLS, colors))
    for row, (low, high) in enumerate(itertools.pairwise(borders)):
        sums = _rows_between(image, low, high).reshape(width, channels)[:, :colors]
        running = np.concatenate([np.zeros((1, colors)), np.cumsum(sums, axis=0)])
        at = np.arange(CELLS + 1) * width / CELLS
        whole = np.minimum(at.astype(np.int64), width - 1)
        edge = running[whole] + (at - whole)[:, None] * sums[whole]
        cells[row] = np.diff(edge, axis=0) / ((high - low) * width / CELLS)
    return Signature((cells * (255 / white(image))).astype(np.float32), (width, height))


def same_picture(one: Signature, other: Signature) -> str:
    """ "same", "different", or "cannot tell" when either is too plain for the answer to mean anything."""
    a, b = one.cells, other.cells
    if min(_deviation(a), _deviation(b)) < PLAIN:
        return "cannot tell"
    if float(np.abs(a - b).mean()) > NEAR + NEAR_SHARE * _deviation(a):
        return "different"
    fine, other_fine = _detail(a), _detail(b)
    strength = float(np.sqrt((fine * fine).sum() * (other_fine * other_fine).sum()))
    if strength / fine.size < PLAIN**2 / 16:  # hardly any detail: the coarse likeness has to do
        return "same"
    return "same" if float((fine * other_fine).sum()) >= ALIKE * strength else "different"


def _rows_between(image: Image, low: float, high: float) -> NDArray[np.float64]:
    """(W * C,) sum of the rows between two heights, the first and the last by the part of them that lies between."""
    rows = image.reshape(len(image), -1)
    first, last = int(low), min(int(high), len(rows) - 1)
    total = rows[last] * (high - last) - rows[first] * (low - first)
    kind = np.uint16 if rows.dtype == np.uint8 else np.uint64
    for top in range(first, last, 256):  # 257 x 255 still fits 16 bits
        total += rows[top : min(top + 256, last)].sum(axis=0, dtype=kind)
    return np.asarray(total)


def _deviation(cells: NDArray[np.float32]) -> float:
    return float(np.sqrt(cells.reshape(-1, cells.shape[2]).var(axis=0).sum()))


def _detail(cells: NDArray[np.float32]) -> NDArray[np.float64]:
    side = CELLS // _BLOCK
    blocks = cells.astype(np.float64).reshape(side, _BLOCK, side, _BLOCK, -1)
    detail = np.asarray(blocks - blocks.mean(axis=(1, 3), keepdims=True))
    return detail if detail.shape[-1] == 3 else np.repeat(detail, 3, axis=-1)
