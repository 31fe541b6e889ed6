"""The numbers of `v`, `vt` and `vn` lines, a whole block of lines at a time."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from .obj_decimals import parse_decimals

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from .obj_decimals import Bytes, Places


@dataclass(frozen=True, slots=True, eq=False)
class Vectors:
    """values: (lines, most numbers on a line) float64. counts: numbers on each line, or
    one number when all lines agree. wrong: lines with a word that is no number."""

    values: NDArray[np.float64]
    counts: NDArray[np.intp] | int
    wrong: Places


def parse_vectors(text: Bytes, line_starts: Places, line_ends: Places, *, most: int, left_out: float) -> Vectors:
    """Numbers of each line. text: the lines with their keywords blanked, `PAD` bytes in front of them.

    line_starts, line_ends: places in `text`; between them lies nothing but these lines. most: numbers beyond this
    many on a line are counted, and dropped. left_out: value of numbers that a line has fewer than others; a line without
    any is all NaN.
    """
    starts, ends = word_bounds(text, int(line_starts[0]), int(line_ends[-1]))
    lines = len(line_starts)
    each, rest = divmod(len(starts), lines)
    if (
        rest == 0
        and each
        and bool((starts[::each] >= line_starts).all() and (ends[each - 1 :: each] <= line_ends).all())
    ):
        # Each line's first word lies in it and so does its last: every line has the same number of words.
        values, wrong = parse_decimals(text, starts, ends)
        return Vectors(values.reshape(lines, each)[:, :most], each, wrong // each)
    first = np.searchsorted(starts, line_starts)
    counts = np.diff(first, append=len(starts))
    values, wrong = parse_decimals(text, starts, ends)
    width = min(int(counts.max(initial=0)), most)
    table = np.full((lines, max(width, 1)), left_out)
    table[counts == 0] = np.nan
    for column in range(width):
        has = np.flatnonzero(counts > column)
        table[has, column] = values[first[has] + column]
    return Vectors(table, counts, np.searchsorted(first, wrong, side="right") - 1)


def word_bounds(text: Bytes, low: int, high: int) -> tuple[Places, Places]:
    """Where each run of bytes above the blank starts and ends in text[low:high]; text[low - 1] must be blank."""
    blank = text[low - 1 : high + 1] <= 32
    blank[-1] = True
    edges = np.flatnonzero(blank[1:] != blank[:-1])
    edges += low
    return edges[::2], edges[1::2]
