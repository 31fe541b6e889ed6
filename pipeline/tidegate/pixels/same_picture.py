"""Whether two maps hold the same picture, perhaps at two sizes."""

from __future__ import annotations

import itertools
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from .samples import Image, as_channels, white
from .strips import strips

CELLS = 256
NEAR = 3.0  # codes of 8 bits by which the means of one cell may differ: rounding, lossy saving
# Of the contrast among a cell and its neighbours, in addition: when the sizes differ, for the filter used; when one was packed
# with loss, for halved chroma, which runs over the borders of blocks.
NEAR_SCALED, NEAR_LOSSY = 0.25, 0.1
ALIKE = 0.95  # share of cells that must be near
LOSSY_BLOCK = (
    8  # texels a side of the means that are compared where one was packed with loss: JPEG keeps those of its blocks
)
PLAIN = 2.0  # standard deviation of the cells, codes of 8 bits, below which a picture says too little


@dataclass(frozen=True, slots=True, eq=False)
class Signature:
    """cells: (CELLS, CELLS, 1 or 3) float32 mean codes on the scale of 8 bits, alpha left out. size: width, height of the map.

    lossy: the map was packed with loss.
    """

    cells: NDArray[np.float32]
    size: tuple[int, int]
    lossy: bool = False


def signature(image: Image, lossy: bool = False) -> Signature:
    """Mean of every cell of a CELLS x CELLS grid over the map. A texel on a border counts for its part on either side, so a
    map and its reduced copy agree whatever their sizes.
    """
    image = as_channels(image)
    height, width, channels = image.shape
    colors = 3 if channels >= 3 else 1
    if height % CELLS == 0 and width % CELLS == 0:
        cells = _whole_cells(image, colors) / (height // CELLS * (width // CELLS))
        return Signature((cells * (255 / white(image))).astype(np.float32), (width, height), lossy)
    borders = [at * height / CELLS for at in range(CELLS + 1)]
    cells = np.empty((CELLS, CELLS, colors))
    for row, (low, high) in enumerate(itertools.pairwise(borders)):
        sums = _rows_between(image, low, high).reshape(width, channels)[:, :colors]
        running = np.concatenate([np.zeros((1, colors)), np.cumsum(sums, axis=0)])
        at = np.arange(CELLS + 1) * width / CELLS
        whole = np.minimum(at.astype(np.int64), width - 1)
        edge = running[whole] + (at - whole)[:, None] * sums[whole]
        cells[row] = np.diff(edge, axis=0) / ((high - low) * width / CELLS)
    return Signature((cells * (255 / white(image))).astype(np.float32), (width, height), lossy)


def same_picture(one: Signature, other: Signature) -> str:
    """ "same", "different", or "cannot tell" when either is too plain for the answer to mean anything."""
    a, b = one.cells, other.cells
    if min(_deviation(a), _deviation(b)) < PLAIN:
        return "cannot tell"
    finest = min(*one.size, *other.size)  # cells finer than the texels of the smaller map say nothing
    lossy = one.lossy or other.lossy
    if lossy:
        finest //= LOSSY_BLOCK
    while len(a) > max(8, finest):
        a, b = _halved(a), _halved(b)
    limit: NDArray[np.float32] | float = NEAR
    if one.size != other.size or lossy:
        limit = NEAR + (NEAR_SCALED if one.size != other.size else NEAR_LOSSY) * _contrast(a)
    near = (np.abs(a - b) <= limit).all(axis=2)
    # Two pictures that are black but for an island are alike nearly everywhere: only what stands out of either counts.
    counted = _stands_out(a) | _stands_out(b)
    share = float(near[counted].mean()) if counted.any() else float(near.mean())
    return "same" if share >= ALIKE else "different"


def _whole_cells(image: Image, colors: int) -> NDArray[np.int64]:
    """(CELLS, CELLS, colors) sums where no texel lies on a border: rows of a cell first, then what lies side by side."""
    height, width, channels = image.shape
    down, across = height // CELLS, width // CELLS
    sums = np.empty((CELLS, CELLS, colors), np.int64)
    for top, bottom in strips(CELLS, down * width):
        part = image[top * down : bottom * down].reshape(bottom - top, down, width * channels)
        rows = part.sum(axis=1, dtype=np.uint32) if down > 1 else part[:, 0]
        parts = rows.reshape(bottom - top, CELLS, across, channels)[..., :colors]
        sums[top:bottom] = parts.sum(axis=2, dtype=np.int64) if across > 1 else parts[:, :, 0]
    return sums


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


def _stands_out(cells: NDArray[np.float32]) -> NDArray[np.bool_]:
    """Cells that are not of the middle value of all, in any channel."""
    return np.asarray((np.abs(cells - np.median(cells, axis=(0, 1))) > NEAR).any(axis=2))


def _halved(cells: NDArray[np.float32]) -> NDArray[np.float32]:
    side = len(cells) // 2
    return np.asarray(cells.reshape(side, 2, side, 2, -1).mean(axis=(1, 3)))


def _contrast(cells: NDArray[np.float32]) -> NDArray[np.float32]:
    """Highest less lowest of each cell and its eight neighbours, per channel."""
    wide = np.pad(cells, ((1, 1), (1, 1), (0, 0)), mode="edge")
    around = [wide[y : y + len(cells), x : x + cells.shape[1]] for y in range(3) for x in range(3)]
    return np.asarray(np.maximum.reduce(around) - np.minimum.reduce(around))
