"""Corners of an OBJ file against what they point at: what is out of range, half stated or no number."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from tidegate.errors import UnreadableFile
from tidegate.model.reference import ReadNote

from .obj_scan import ABSENT, OUT_OF_RANGE

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from .obj_scan import ObjArrays
    from .obj_text import ObjText

_NAMES = ("v", "vt", "vn")
_THINGS = ("vertex", "texture vertex", "normal")


def check_corners(source: ObjText, arrays: ObjArrays) -> list[ReadNote]:
    """Takes bad texture vertices and normals off their faces, in place, and says so.

    Raises UnreadableFile for a face without its positions and for a file that breaks off.
    """
    _refuse_broken_off(source, arrays)
    _refuse_missing_positions(source, arrays)
    notes = []
    for place in (1, 2):
        notes += _mend(arrays, place)
    return notes


def check_numbers(arrays: ObjArrays) -> list[ReadNote]:
    """Lines that could not be read in full, and coordinates that are NaN or infinite."""
    notes = []
    told: dict[tuple[str, str], list[int]] = {}
    for bad in arrays.bad_lines:
        told.setdefault((bad.keyword, bad.what), []).append(bad.line)
    for (keyword, what), lines in told.items():
        left_out = "; the face was left out" if keyword == "f" else ""
        surplus = what.startswith("has more")
        notes.append(
            ReadNote(
                "surplus-numbers" if surplus else "unreadable-line",
                "warning" if surplus else "error",
                f"a `{keyword}` line {what}{left_out}: {_listed(lines)}",
                "export again; the file may have been damaged or edited by hand",
                f"line {lines[0]}",
            )
        )
    known = np.array(sorted({bad.line for bad in arrays.bad_lines}), dtype=np.int64)
    for name, width in (("v", 3), ("vt", 2), ("vn", 3)):
        lines_of = arrays.vector_lines[name]
        rows = np.flatnonzero(~np.isfinite(arrays.vectors[name][:, :width]).all(axis=1))
        new = lines_of[rows][~np.isin(lines_of[rows], known)]
        if len(new):
            notes.append(
                ReadNote(
                    "not-finite",
                    "error",
                    f"a `{name}` line holds a number that is infinite or no number (NaN): {_listed(new.tolist())}",
                    "look for collapsed or exploded geometry there and export again",
                    f"line {int(new[0])}",
                )
            )
    return notes


def _refuse_broken_off(source: ObjText, arrays: ObjArrays) -> None:
    """A last line without a line end that is incomplete, or that no face can come behind."""
    if source.complete:
        return
    number, keyword = source.last_line()
    half = False
    if len(arrays.lines) and int(arrays.lines[-1]) == number:
        corners = int(arrays.counts[-1])
        for index in arrays.corners[1:]:
            absent = index[-corners:] == ABSENT
            half |= bool(absent.any() and not absent.all())
    if keyword in (b"v", b"vt", b"vn") or half or any(bad.line == number for bad in arrays.bad_lines):
        raise UnreadableFile(
            "the file breaks off in the middle of its last line",
            path=source.path,
            came=f"line {number} is incomplete and has no line end",
            help="the copy was cut short: hand over the whole file",
        )


def _refuse_missing_positions(source: ObjText, arrays: ObjArrays) -> None:
    if not len(arrays.counts):
        vertices = len(arrays.vectors["v"])
        raise UnreadableFile(
            "the file holds no face",
            path=source.path,
            expected="`v` and `f` lines",
            came=f"{vertices} vertices and no face that can be read",
            help="export the mesh with its faces; the copy may also have been cut off",
        )
    vertex = arrays.corners[0]
    wrong = (vertex < 0) | (vertex >= len(arrays.vectors["v"]))
    if wrong.any():
        corner = int(np.argmax(wrong))
        line = int(arrays.lines[_face_of(arrays, np.array([corner]))[0]])
        faces = len(np.unique(_face_of(arrays, np.flatnonzero(wrong))))
        raise UnreadableFile(
            f"line {line}: a face uses a vertex that does not exist",
            path=source.path,
            expected=f"vertices 1 to {len(arrays.vectors['v'])}, or counted back from the face",
            came=f"{faces} such face{'s' if faces > 1 else ''}",
            help="export again; the file may have been cut off or put together from parts",
        )


def _mend(arrays: ObjArrays, place: int) -> list[ReadNote]:
    """Makes every face state all of its numbers for `place` or none."""
    index, total = arrays.corners[place], len(arrays.vectors[_NAMES[place]])
    if int(index.min(initial=0)) >= 0 and int(index.max(initial=-1)) < total:
        return []
    absent = index == ABSENT
    if absent.all():
        return []
    outside = (index == OUT_OF_RANGE) | (index >= total)
    first_corner = np.cumsum(arrays.counts, dtype=np.int64) - arrays.counts
    outside_faces = np.flatnonzero(np.logical_or.reduceat(outside, first_corner))
    some, every = np.logical_or.reduceat(absent, first_corner), np.logical_and.reduceat(absent, first_corner)
    half_faces = np.flatnonzero(some & ~every)
    bare = np.zeros(len(arrays.counts), dtype=bool)
    bare[outside_faces] = True
    bare[half_faces] = True
    index[np.repeat(bare, arrays.counts)] = ABSENT
    thing = _THINGS[place]
    loss = "has no UVs now" if place == 1 else "has no normals now"
    notes = []
    if len(outside_faces):
        lines = arrays.lines[outside_faces].tolist()
        notes.append(
            ReadNote(
                "index-out-of-range",
                "error",
                f"a face uses a {thing} that does not exist and {loss} (the file states {total}): {_listed(lines)}",
                "export again; the file may have been cut off or put together from parts",
                f"line {lines[0]}",
            )
        )
    half = half_faces[~np.isin(half_faces, outside_faces)]
    if len(half):
        lines = arrays.lines[half].tolist()
        notes.append(
            ReadNote(
                "corners-half-stated",
                "error" if place == 1 else "warning",
                f"a face states a {thing} at some corners and not at others, and {loss}: {_listed(lines)}",
                "every corner of a face states the same kinds of numbers",
                f"line {lines[0]}",
            )
        )
    return notes


def _face_of(arrays: ObjArrays, corners: NDArray[np.intp]) -> NDArray[np.intp]:
    return np.searchsorted(np.cumsum(arrays.counts, dtype=np.int64), corners, side="right")


def _listed(lines: list[int]) -> str:
    """ "line 7", "lines 7, 9 and 12" or "lines 7, 9, 12 and 40 more"."""
    shown = [str(line) for line in lines[:3]]
    if len(lines) > 3:
        return f"lines {', '.join(shown)} and {len(lines) - 3} more"
    if len(shown) == 1:
        return f"line {shown[0]}"
    return f"lines {', '.join(shown[:-1])} and {shown[-1]}"
