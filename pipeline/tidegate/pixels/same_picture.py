"""Whether two maps hold the same picture, perhaps at two sizes."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from .samples import Image, as_channels, white

CELLS = 64
NEAR = 2.0  # codes of 8 bits by which cell means may differ on average: rounding, lossy saving, another filter
ALIKE = 0.97  # correlation of what remains when each block of cells loses its mean
PLAIN = 2.0  # standard deviation of the cells, codes of 8 bits, below which a picture says too little

_BLOCK = 8


@dataclass(frozen=True, slots=True, eq=False)
class Signature:
    """cells: (CELLS, CELLS, 1 or 3) float32 mean codes on the scale of 8 bits, alpha left out. size: width, height of the map."""

    cells: NDArray[np.float32]
    size: tuple[int, int]


def signature(image: Image) -> Signature:
    """Mean of every cell of a CELLS x CELLS grid over the map; every texel counts once, whatever the size."""
    image = as_channels(image)
    height, width, channels = image.shape
    colors = 3 if channels >= 3 else 1
    down, across = _borders(height), _borders(width)
    cells = np.empty((CELLS, CELLS, colors), np.float32)
    for row, (top, bottom) in enumerate(zip(down[0].tolist(), down[1].tolist(), strict=True)):
        # A strip of one cell row: its columns first, so that the sum over rows runs along memory.
        sums = _row_sums(image[top:bottom]).reshape(width, channels)[:, :colors]
        running = np.concatenate([np.zeros((1, colors), np.uint64), np.cumsum(sums, axis=0, dtype=np.uint64)])
        total = running[across[1]] - running[across[0]]
        cells[row] = total / ((across[1] - across[0]) * (bottom - top))[:, None]
    cells *= np.float32(255 / white(image))
    return Signature(cells, (width, height))


def same_picture(one: Signature, other: Signature) -> str:
    """ "same", "different", or "cannot tell" when either is too plain for the answer to mean anything."""
    a, b = one.cells, other.cells
    if min(_deviation(a), _deviation(b)) < PLAIN:
        return "cannot tell"
    if float(np.abs(a - b).mean()) > NEAR:
        return "different"
    fine, other_fine = _detail(a), _detail(b)
    strength = float(np.sqrt((fine * fine).sum() * (other_fine * other_fine).sum()))
    if strength / fine.size < PLAIN**2 / 16:  # hardly any detail: the coarse likeness has to do
        return "same"
    return "same" if float((fine * other_fine).sum()) >= ALIKE * strength else "different"


def _borders(size: int) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """First texel and the one after the last of each cell; maps smaller than the grid show a texel in several cells."""
    first = np.arange(CELLS) * size // CELLS
    return first, np.maximum(np.arange(1, CELLS + 1) * size // CELLS, first + 1)


def _row_sums(rows: Image) -> NDArray[np.uint64]:
    flat = rows.reshape(len(rows), -1)
    if rows.dtype != np.uint8:
        return np.asarray(flat.sum(axis=0, dtype=np.uint64))
    total = np.zeros(flat.shape[1], np.uint64)
    for top in range(0, len(flat), 256):  # 257 x 255 still fits 16 bits
        total += flat[top : top + 256].sum(axis=0, dtype=np.uint16)
    return total


def _deviation(cells: NDArray[np.float32]) -> float:
    return float(np.sqrt(cells.reshape(-1, cells.shape[2]).var(axis=0).sum()))


def _detail(cells: NDArray[np.float32]) -> NDArray[np.float64]:
    side = CELLS // _BLOCK
    blocks = cells.astype(np.float64).reshape(side, _BLOCK, side, _BLOCK, -1)
    detail = np.asarray(blocks - blocks.mean(axis=(1, 3), keepdims=True))
    return detail if detail.shape[-1] == 3 else np.repeat(detail, 3, axis=-1)
