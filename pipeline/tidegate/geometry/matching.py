"""Equal rows found by a table of hashes, proven equal column by column, in time that grows as the rows do.

Every round writes each open row into the slot its hash names; whoever stands there afterwards is the candidate of all
rows of that slot. Rows that equal their candidate are done, the others go round again with another hash. Because a
match is proven and never assumed, hashes that collide cost time only. What is still open after those rounds is sorted.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

_ODD = np.uint64(0x9E3779B97F4A7C15)
_SPREAD = tuple(
    np.uint64(odd)
    for odd in (
        0xD6E8FEB86659FD93,
        0xA0761D6478BD642F,
        0xE7037ED1A0B428DB,
        0x8EBC6AF09C88C6E3,
        0x589965CC75374CC3,
        0x1D8E4E27C47D124F,
    )
)


def representatives(columns: Sequence[NDArray[np.uint64]]) -> NDArray[np.int32]:
    """(n,) int32: for every row a row that equals it, the same one for all equal rows.

    columns: one or more (n,) uint64 arrays, together the rows; fewer than 2**31 rows.
    """
    count = len(columns[0])
    found = np.empty(count, np.int32)
    if count == 0:
        return found
    mixed = _mix(columns)
    open_rows = np.arange(count)
    for spread in _SPREAD:
        bits = (2 * len(open_rows) - 1).bit_length()
        slots = _slots(mixed, spread, bits)
        table = np.empty(1 << bits, np.int64)
        table[slots[::-1]] = open_rows[::-1]  # the last write stays: the earliest row of each slot
        candidate = table.take(slots)
        same = columns[0].take(candidate) == columns[0].take(open_rows)
        for column in columns[1:]:
            same &= column.take(candidate) == column.take(open_rows)
        found[open_rows[same]] = candidate[same]
        other = ~same
        open_rows, mixed = open_rows[other], mixed[other]
        if len(open_rows) == 0:
            return found
    _sorted_out(columns, open_rows, found)
    return found


def ids_of(found: NDArray[np.int32]) -> tuple[NDArray[np.int32], int]:
    """Numbers 0.. for the groups that `representatives` found, in the order of their representatives, and how many."""
    count = len(found)
    stands = found == np.arange(count, dtype=np.int32)
    numbers = np.cumsum(stands, dtype=np.int32)
    total = int(numbers[-1]) if count else 0
    numbers -= 1
    return numbers[found], total


def _mix(columns: Sequence[NDArray[np.uint64]]) -> NDArray[np.uint64]:
    mixed = columns[0] * _ODD
    for column in columns[1:]:
        mixed ^= mixed >> np.uint64(32)
        mixed ^= column
        mixed *= _ODD
    mixed ^= mixed >> np.uint64(29)
    return mixed


def _slots(mixed: NDArray[np.uint64], spread: np.uint64, bits: int) -> NDArray[np.int64]:
    slots: NDArray[np.int64] = ((mixed * spread) >> np.uint64(64 - bits)).view(np.int64)
    return slots


def _sorted_out(columns: Sequence[NDArray[np.uint64]], open_rows: NDArray[np.int64], found: NDArray[np.int32]) -> None:
    values = [column[open_rows] for column in columns]
    order = np.lexsort(values)
    first = np.zeros(len(order), np.bool_)
    first[0] = True
    for value in values:
        ordered = value[order]
        first[1:] |= ordered[1:] != ordered[:-1]
    starts = np.flatnonzero(first)
    group = np.cumsum(first) - 1
    # lexsort is stable, so the first of each group is its earliest row.
    found[open_rows[order]] = open_rows[order[starts]][group]
