"""Lines with soft edges: how much of every texel a straight line of some width covers, worked out, not sampled.

A line is a strip about the segment, lengthened by half its width at both ends so that corners close. Along its longer
axis it is walked column by column; what it covers of each texel of a column is the exact area under the strip, from the
integral of a ramp along a straight edge. Ends are cut along the column.

Coordinates are texels, x to the right and y down; texel (x, y) reaches from x to x + 1 and from y to y + 1.
"""

from __future__ import annotations

import math
from concurrent.futures import ThreadPoolExecutor

import numpy as np
from numpy.typing import NDArray

from tidegate.geometry.batches import batches

_STEPS_AT_ONCE = 1 << 16  # columns of lines at a time: their numbers stay in the processor's cache
_MANY = 50_000  # lines from which on two threads pay
_LEVEL = 1.0 / 128.0  # slope below which a line is level within a column to less than half of 1/255


def line_coverage(segments: NDArray[np.float64], line: float, width: int, height: int) -> NDArray[np.uint8]:
    """(height, width) uint8: covered share of each texel in 255ths, of several lines the largest.

    segments: (4, s) x0, y0, x1, y1 in texels; those with an end that is no finite number are left out.
    line: width of the lines in texels, above 0.
    """
    pad = math.ceil(line * 1.5 + 2.0)
    kept = np.isfinite(segments).all(axis=0)
    x0, y0, x1, y1 = segments if kept.all() else segments[:, kept]
    wide = np.abs(x1 - x0) >= np.abs(y1 - y0)

    def drawn(across: bool) -> NDArray[np.uint8]:
        grid = np.zeros((height + 2 * pad, width + 2 * pad), np.uint8)
        chosen = np.flatnonzero(wide if across else ~wide)
        ends = (x0, y0, x1, y1) if across else (y0, x0, y1, x1)
        a0, b0, a1, b1 = (column.take(chosen) for column in ends)
        size = (width, height) if across else (height, width)
        strides = (1, grid.shape[1]) if across else (grid.shape[1], 1)
        _along(grid.reshape(-1), a0, b0, a1, b1, line, size, strides, pad)
        return grid[pad : pad + height, pad : pad + width]

    if len(wide) < _MANY:
        level, steep = drawn(True), drawn(False)
    else:  # either way of lines has a grid of its own, so the order in which they finish changes nothing
        with ThreadPoolExecutor(2) as threads:
            level, steep = threads.map(drawn, (True, False))
    return np.maximum(level, steep)


def _along(
    flat: NDArray[np.uint8],
    a0: NDArray[np.float64],
    b0: NDArray[np.float64],
    a1: NDArray[np.float64],
    b1: NDArray[np.float64],
    line: float,
    size: tuple[int, int],
    strides: tuple[int, int],
    pad: int,
) -> None:
    """Lines that run along axis a, at most as steep as 45 degrees."""
    back = a1 < a0
    a0, a1, b0, b1 = np.where(back, a1, a0), np.where(back, a0, a1), np.where(back, b1, b0), np.where(back, b0, b1)
    run = a1 - a0
    with np.errstate(divide="ignore", invalid="ignore"):
        slope = np.where(run > 0.0, (b1 - b0) / run, 0.0)
    lean = np.sqrt(1.0 + slope * slope)
    beyond = 0.5 * line / lean
    a0, a1, b0 = a0 - beyond, a1 + beyond, b0 - slope * beyond
    first = np.clip(np.floor(a0), 0, size[0])
    steps = (np.clip(np.ceil(a1), 0, size[0]) - first).astype(np.int64)
    low, high = np.minimum(b0, b0 + slope * (a1 - a0)), np.maximum(b0, b0 + slope * (a1 - a0))
    steps[(high < -line) | (low > size[1] + line)] = 0
    level = np.abs(slope) < _LEVEL
    for flat_ones in (True, False):
        kept = np.flatnonzero((steps > 0) & (level == flat_ones))
        if len(kept) == 0:
            continue
        columns = [values.take(kept) for values in (a0, a1, b0, slope, lean, first)]
        count = steps.take(kept)
        for begin, stop in batches(count, _STEPS_AT_ONCE):
            part = [values[begin:stop] for values in columns]
            _cover(flat, part, count[begin:stop], line, size[1], strides, pad, flat_ones)


def _cover(
    flat: NDArray[np.uint8],
    columns: list[NDArray[np.float64]],
    steps: NDArray[np.int64],
    line: float,
    height: int,
    strides: tuple[int, int],
    pad: int,
    level: bool,
) -> None:
    a0, a1, b0, slope, lean, first = columns
    which = np.repeat(np.arange(len(steps)), steps)
    begin = np.cumsum(steps) - steps
    column = (first - begin).take(which)
    column += np.arange(len(which))
    left = np.maximum(column, a0.take(which))
    right = np.minimum(column + 1.0, a1.take(which))
    span = right - left
    left += right
    tilt = slope.take(which)
    middle = (b0 - slope * a0).take(which)
    middle += (0.5 * tilt) * left
    bend = np.abs(0.5 * tilt * span)
    half = (0.5 * line * lean).take(which)
    low = middle - half - bend
    base = np.floor(low)
    share = span.astype(np.float32)
    share *= np.float32(255.0)
    if base.min() < -pad or base.max() > height:  # some line leaves the picture sideways here
        np.clip(base, -pad, height, out=base)
        share[np.abs(low - base) > pad] = 0.0
    # Height above the strip's lower side at the bottom of each texel, from here on in small numbers.
    rise = (base - middle + half).astype(np.float32)
    thick, bent = (2.0 * half).astype(np.float32), bend.astype(np.float32)
    place = ((base + pad) * strides[1] + (column + pad) * strides[0]).astype(np.int64)
    texels = math.ceil(float(thick.max() + 2.0 * bent.max()) - 1e-6) + 1
    np.maximum(bent, np.float32(1e-6), out=bent)
    quarter = np.float32(0.25) / bent
    below = _below(rise, thick, bent, quarter, level)
    for texel in range(texels):
        above = _below(rise + np.float32(texel + 1), thick, bent, quarter, level)
        covered = above - below
        covered *= share
        covered += np.float32(0.5)  # to round, as what lies behind the point is cut off
        np.minimum(covered, np.float32(255.0), out=covered)
        np.maximum.at(flat, place, covered.astype(np.uint8))
        place += strides[1]
        below = above


def _below(
    rise: NDArray[np.float32],
    thick: NDArray[np.float32],
    bent: NDArray[np.float32],
    quarter: NDArray[np.float32],
    level: bool,
) -> NDArray[np.float32]:
    """Area of the strip below a height, in a column one wide: the mean of clamp(rise - d, 0, thick) over d from -bent to
    bent. quarter: 1 / (4 bent)."""
    if level:
        clamped: NDArray[np.float32] = np.clip(rise, 0.0, thick)
        return clamped
    return _mean_ramp(rise, bent, quarter) - _mean_ramp(rise - thick, bent, quarter)


def _mean_ramp(
    value: NDArray[np.float32], bent: NDArray[np.float32], quarter: NDArray[np.float32]
) -> NDArray[np.float32]:
    """The mean of max(0, value - d) over d from -bent to bent: 0, then a parabola, then the value itself. Only the small
    part about the bend is squared, so no digits are lost for wide lines."""
    curve = np.clip(value, -bent, bent)
    curve += bent
    curve *= curve
    curve *= quarter
    beyond = value - bent
    np.maximum(beyond, np.float32(0.0), out=beyond)
    curve += beyond
    return curve
