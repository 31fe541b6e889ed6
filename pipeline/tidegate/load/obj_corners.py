"""The corners of `f` lines (`1`, `1/2`, `1//3`, `1/2/3`), a whole block of lines at a time.

Fields are what stands between two separators, a blank or a slash. A field behind a blank is a position's number, the
next one behind one slash is a texture vertex's, the one behind two slashes a normal's: so every form of corner, and any
mixture of them, is read by the same few array steps.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from .obj_decimals import parse_wholes

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from .obj_decimals import Bytes, Places

_SLASH, _NEWLINE = 47, 10


@dataclass(frozen=True, slots=True, eq=False)
class Corners:
    """numbers: (3, corners) as written, for position, texture vertex, normal. stated: the same shape, whether the
    corner has a number there. counts: (lines,) corners on each line. wrong: lines that hold something else."""

    numbers: tuple[NDArray[np.int64], NDArray[np.int64], NDArray[np.int64]]
    stated: tuple[NDArray[np.bool_] | bool, NDArray[np.bool_] | bool, NDArray[np.bool_] | bool]
    counts: NDArray[np.intp]
    wrong: Places


def parse_corners(text: Bytes, low: int, high: int) -> Corners:
    """Corners of all lines in text[low:high], keywords blanked, each line ended by a newline.

    text: `PAD` bytes in front of `low`, the last of them blank.
    """
    # One separator before the first line, so that every field has one on either side.
    window = text[low - 1 : high]
    places = np.flatnonzero((window <= 32) | (window == _SLASH))
    places += low - 1
    signs = text[places]
    slash = signs == _SLASH
    starts, ends = places[:-1] + 1, places[1:]
    behind, before = slash[:-1], slash[1:]  # of each field: a slash on its left, on its right
    filled = ends > starts
    # A corner begins behind a blank, and is there at all when it has a number or a slash.
    corner = np.flatnonzero(~behind & (filled | before))
    newlines = np.flatnonzero(signs[1:] == _NEWLINE)  # field that ends a line
    counts = np.diff(np.searchsorted(corner, newlines, side="right"), prepend=0)

    faulty: list[NDArray[np.intp]] = []  # numbers of bad corners
    positions, bad = parse_wholes(text, starts[corner], ends[corner])
    _note(faulty, bad)
    _note(faulty, ~filled[corner])
    # Padded, so that looking two fields on from the last corner stays inside.
    reach = np.concatenate((before, np.zeros(3, dtype=bool)))
    with_uv = reach[corner]
    with_normal = with_uv & reach[corner + 1]
    _note(faulty, with_normal & reach[corner + 2])
    uvs, has_uv = _second(text, starts, ends, filled, corner + 1, with_uv, faulty)
    normals, has_normal = _second(text, starts, ends, filled, corner + 2, with_normal, faulty)

    wrong: Places = np.zeros(0, dtype=np.intp)
    if faulty:
        upto = np.cumsum(counts)
        wrong = np.unique(np.searchsorted(upto, np.concatenate(faulty), side="right"))
    return Corners((positions, uvs, normals), (True, has_uv, has_normal), counts, wrong)


def _second(
    text: Bytes,
    starts: Places,
    ends: Places,
    filled: NDArray[np.bool_],
    field: Places,
    there: NDArray[np.bool_],
    faulty: list[NDArray[np.intp]],
) -> tuple[NDArray[np.int64], NDArray[np.bool_] | bool]:
    """Numbers of the fields `field` of those corners that have one there, and which corners do."""
    if there.all():
        at = field
        numbers, bad = parse_wholes(text, starts[at], ends[at])
        _note(faulty, bad)
        has = filled[at]
        return numbers, True if has.all() else has
    if not there.any():
        return np.zeros(len(field), dtype=np.int64), False
    chosen = np.flatnonzero(there)
    at = field[chosen]
    some, bad = parse_wholes(text, starts[at], ends[at])
    if bad is not False:
        faulty.append(chosen[np.flatnonzero(bad)])
    numbers = np.zeros(len(field), dtype=np.int64)
    numbers[chosen] = some
    has = np.zeros(len(field), dtype=bool)
    has[chosen] = filled[at]
    return numbers, has


def _note(faulty: list[NDArray[np.intp]], bad: NDArray[np.bool_] | bool) -> None:
    if bad is not False:
        found = np.flatnonzero(bad)
        if len(found):
            faulty.append(found)
