"""OBJ text to arrays: one pass over the file, a block of lines at a time.

A block fits a processor's cache. Its lines are told apart by their first bytes; the lines of one kind are then read
together. Only statements that set a state (`o`, `g`, `usemtl`, `mtllib`) and what we do not know are looked at line
by line. Blocks hold whole lines, so nothing depends on where they are cut.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np

from tidegate.errors import LimitExceeded

from .obj_corners import parse_corners
from .obj_decimals import PAD
from .obj_vectors import Vectors, parse_vectors

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from .limits import ReadLimits
    from .obj_decimals import Bytes, Places
    from .obj_text import ObjText

ABSENT, OUT_OF_RANGE = -1, -2
"""Values of a corner's index: it states none; what it states is zero or lies before the first."""

_BLOCK = 1 << 20  # bytes; 256 KiB to 4 MiB measured alike
_MIDDLE_COMMENT = re.compile(rb"(?<=[ \t\r\v\f])#[^\n]*")
_VERTEX, _UV, _NORMAL, _FACE, _OTHER, _NOTHING = range(6)
_KEYWORD = {_VERTEX: "v", _UV: "vt", _NORMAL: "vn", _FACE: "f"}
_LEAST_AND_MOST = {_VERTEX: (3, 7), _UV: (1, 3), _NORMAL: (3, 3)}
_WIDTH = {_VERTEX: 3, _UV: 2, _NORMAL: 3}
# "v is the value for the vertical direction ... default 0" (Object Files (.obj) Appendix B1, vt); nothing else has one.
_LEFT_OUT = {_VERTEX: np.nan, _UV: 0.0, _NORMAL: np.nan}


@dataclass(frozen=True, slots=True)
class Statement:
    """A line that is neither number nor face. keyword: as written. rest: what follows it, bytes, blanks around cut.

    line: 1-based. faces: how many faces stand before it.
    """

    keyword: str
    rest: bytes
    line: int
    faces: int


@dataclass(frozen=True, slots=True)
class BadLine:
    """A line that could not be read in full. what: one clause."""

    keyword: str
    line: int
    what: str


@dataclass(slots=True, eq=False)
class ObjArrays:
    """What one pass over an OBJ file gives.

    vectors: for v, vt, vn: (lines, at least 3, 2, 3 numbers) float64. Numbers a line leaves out are 0 for vt and NaN
    for the others. vector_lines: (lines,) int32, the 1-based line of each.
    corners: for position, texture vertex, normal: (c,) int32, 0 first, or ABSENT or OUT_OF_RANGE; relative
    numbers are already turned into absolute ones. An index may still be beyond the last.
    counts, lines: (faces,) int32 corners and 1-based line of each face; faces with a bad corner have left.
    """

    vectors: dict[str, NDArray[np.float64]]
    vector_lines: dict[str, NDArray[np.int32]]
    corners: tuple[NDArray[np.int32], NDArray[np.int32], NDArray[np.int32]]
    counts: NDArray[np.int32]
    lines: NDArray[np.int32]
    statements: list[Statement] = field(default_factory=list)
    bad_lines: list[BadLine] = field(default_factory=list)


class _Scan:
    """State of one pass."""

    def __init__(self, source: ObjText, limits: ReadLimits) -> None:
        self._source = source
        self._limits = limits
        self._seen = [0, 0, 0]  # v, vt and vn lines before this block
        self._vectors: dict[int, list[NDArray[np.float64]]] = {_VERTEX: [], _UV: [], _NORMAL: []}
        self._vector_lines: dict[int, list[NDArray[np.int32]]] = {_VERTEX: [], _UV: [], _NORMAL: []}
        self._corners: tuple[list[NDArray[np.int32]], ...] = ([], [], [])
        self._counts: list[NDArray[np.int32]] = []
        self._lines: list[NDArray[np.int32]] = []
        self._faces = 0
        self._triangles = 0
        self._statements: list[Statement] = []
        self._bad: list[BadLine] = []

    def run(self) -> ObjArrays:
        data = self._source.data
        low, line = 0, 1
        while low < len(data):
            high = data.find(b"\n", min(low + _BLOCK, len(data) - 1)) + 1
            high = high or len(data)
            line += self._block(low, high, line)
            low = high
        return ObjArrays(
            vectors={
                _KEYWORD[kind]: _stacked(blocks, _LEFT_OUT[kind], _WIDTH[kind])
                for kind, blocks in self._vectors.items()
            },
            vector_lines={_KEYWORD[kind]: _joined(blocks) for kind, blocks in self._vector_lines.items()},
            corners=(_joined(self._corners[0]), _joined(self._corners[1]), _joined(self._corners[2])),
            counts=_joined(self._counts),
            lines=_joined(self._lines),
            statements=self._statements,
            bad_lines=sorted(self._bad, key=lambda bad: bad.line),
        )

    def _block(self, low: int, high: int, first_line: int) -> int:
        """Reads data[low:high], whole lines. Returns how many lines it has."""
        size = high - low
        text = np.full(PAD + size + PAD, 10, dtype=np.uint8)
        text[PAD : PAD + size] = np.frombuffer(self._source.data, dtype=np.uint8, count=size, offset=low)
        # The last line may lack its newline; the first byte of the padding behind it then is one.
        line_ends = np.flatnonzero(text[PAD : PAD + size] == 10) + PAD
        if not len(line_ends) or line_ends[-1] != PAD + size - 1:
            line_ends = np.append(line_ends, PAD + size)
        line_starts = np.empty_like(line_ends)
        line_starts[0], line_starts[1:] = PAD, line_ends[:-1] + 1
        longest = int((line_ends - line_starts).max())
        if longest > self._limits.text_line:
            raise LimitExceeded(
                "a line is longer than the limits allow",
                path=self._source.path,
                expected=f"at most {self._limits.text_line} bytes",
                came=f"{longest} bytes at line {first_line + int((line_ends - line_starts).argmax())}",
            )
        words = _first_words(text, line_starts, line_ends)
        kinds = _kinds(text, words)
        numbers = self._source.line_numbers(line_starts - PAD + low, first_line)
        present = np.flatnonzero(np.bincount(kinds, minlength=6)).tolist()
        faces_before = np.cumsum(kinds == _FACE) + self._faces if _OTHER in present else None
        dropped: Places = np.zeros(0, dtype=np.intp)
        for kind in present:
            chosen = np.flatnonzero(kinds == kind)
            if kind in (_VERTEX, _UV, _NORMAL):
                self._read_vectors(kind, text, words, line_starts, line_ends, chosen, numbers)
            elif kind == _FACE:
                dropped = self._read_faces(text, words, line_starts, line_ends, chosen, numbers, kinds)
        if faces_before is not None:
            for i in np.flatnonzero(kinds == _OTHER).tolist():
                gone = int(np.searchsorted(dropped, i))
                self._read_statement(
                    text[words[i] : line_ends[i]].tobytes(), int(numbers[i]), int(faces_before[i]) - gone
                )
        if _FACE in present:
            self._faces += len(self._counts[-1])
        for kind in (_VERTEX, _UV, _NORMAL):
            self._seen[kind] += int(np.count_nonzero(kinds == kind))
        self._check_size()
        return len(line_ends)

    def _read_statement(self, line: bytes, number: int, faces: int) -> None:
        keyword, *rest = line.split(None, 1)
        self._statements.append(Statement(keyword.decode("latin-1"), rest[0].strip() if rest else b"", number, faces))

    def _read_vectors(
        self,
        kind: int,
        text: Bytes,
        words: Places,
        line_starts: Places,
        line_ends: Places,
        chosen: Places,
        numbers: NDArray[np.int64],
    ) -> None:
        text[words[chosen]] = 32
        if kind != _VERTEX:
            text[words[chosen] + 1] = 32
        part, starts, ends = _lines_alone(text, line_starts, line_ends, chosen)
        read = parse_vectors(part, starts, ends, most=_LEAST_AND_MOST[kind][1], left_out=_LEFT_OUT[kind])
        self._vectors[kind].append(read.values)
        self._vector_lines[kind].append(numbers[chosen].astype(np.int32))
        self._note_vectors(kind, read, chosen, numbers)

    def _note_vectors(self, kind: int, read: Vectors, chosen: Places, numbers: NDArray[np.int64]) -> None:
        keyword = _KEYWORD[kind]
        least, most = _LEAST_AND_MOST[kind]
        counts = np.broadcast_to(np.asarray(read.counts), chosen.shape)
        for which, what in (
            (np.unique(read.wrong), "holds a word that is no number"),
            (np.flatnonzero(counts < least), f"has fewer than {least} number{'s' if least > 1 else ''}"),
            (np.flatnonzero(counts > most), f"has more than {most} numbers"),
        ):
            self._bad += [BadLine(keyword, int(numbers[chosen[i]]), what) for i in which.tolist()]

    def _read_faces(
        self,
        text: Bytes,
        words: Places,
        line_starts: Places,
        line_ends: Places,
        chosen: Places,
        numbers: NDArray[np.int64],
        kinds: NDArray[np.int8],
    ) -> Places:
        """Returns the lines of the block whose faces were dropped."""
        text[words[chosen]] = 32
        obsolete = words[chosen][text[words[chosen] + 1] == ord("o")]
        text[obsolete + 1] = 32
        part, starts, ends = _lines_alone(text, line_starts, line_ends, chosen)
        read = parse_corners(part, int(starts[0]), int(ends[-1]) + 1)
        counts, keep = read.counts, None
        few = np.flatnonzero(counts < 3)
        bad = np.union1d(read.wrong, few)
        if len(bad):
            wrong = set(read.wrong.tolist())
            for i in bad.tolist():
                what = "holds a corner that is no number" if i in wrong else "has fewer than 3 corners"
                self._bad.append(BadLine("f", int(numbers[chosen[i]]), what))
            keep_line = np.ones(len(counts), dtype=bool)
            keep_line[bad] = False
            keep = np.repeat(keep_line, counts)
        for place, (written, stated) in enumerate(zip(read.numbers, read.stated, strict=True)):
            index = self._absolute(place, written, stated, counts, chosen, kinds)
            self._corners[place].append(index if keep is None else index[keep])
        if keep is not None:
            counts, lines = counts[keep_line], numbers[chosen][keep_line]
        else:
            lines = numbers[chosen]
        self._counts.append(counts.astype(np.int32))
        self._lines.append(lines.astype(np.int32))
        self._triangles += int((counts - 2).sum())
        return chosen[bad]

    def _absolute(
        self,
        place: int,
        written: NDArray[np.int64],
        stated: NDArray[np.bool_] | bool,
        counts: NDArray[np.intp],
        chosen: Places,
        kinds: NDArray[np.int8],
    ) -> NDArray[np.int32]:
        """Indices from 0 for one kind of number of every corner. 1 is the first, -1 the last one before the face."""
        if stated is False:
            return np.full(len(written), ABSENT, dtype=np.int32)
        index = written - 1
        if index.min(initial=0) < 0:
            relative = np.flatnonzero(written < 0)
            if len(relative):
                before = np.cumsum(kinds == place) + self._seen[place]
                line = chosen[np.repeat(np.arange(len(counts)), counts)[relative]]
                index[relative] += before[line] + 1
            index[index < 0] = OUT_OF_RANGE
        if stated is not True:
            index[~stated] = ABSENT
        return index.astype(np.int32)

    def _check_size(self) -> None:
        for what, count, most in (
            ("vertices", self._seen[_VERTEX], self._limits.vertices),
            ("triangles", self._triangles, self._limits.triangles),
        ):
            if count > most:
                raise LimitExceeded(
                    f"the mesh has more {what} than the limits allow",
                    path=self._source.path,
                    expected=f"at most {most}",
                    came=f"more than {most}",
                )


def scan(source: ObjText, limits: ReadLimits) -> ObjArrays:
    """Reads an OBJ text into arrays. Raises LimitExceeded; whatever else is wrong is told in `bad_lines`."""
    return _Scan(source, limits).run()


def _first_words(text: Bytes, starts: Places, ends: Places) -> Places:
    """Where each line's first byte above the blank stands, its end when it has none."""
    if not bool(((text[starts] <= 32) & (starts < ends)).any()):
        return starts
    low = int(starts[0])
    dark = np.flatnonzero(text[low : int(ends[-1])] > 32) + low
    found: Places = np.append(dark, ends[-1])[np.searchsorted(dark, starts)]
    return np.minimum(found, ends)


def _kinds(text: Bytes, words: Places) -> NDArray[np.int8]:
    """Kind of each line by its keyword."""
    first, second, third = text[words], text[words + 1], text[words + 2]
    kinds = np.full(len(words), _OTHER, dtype=np.int8)
    kinds[(first == ord("#")) | (first <= 32)] = _NOTHING
    letter_v, third_blank = first == ord("v"), third <= 32
    kinds[letter_v & (second <= 32)] = _VERTEX
    kinds[letter_v & (second == ord("t")) & third_blank] = _UV
    kinds[letter_v & (second == ord("n")) & third_blank] = _NORMAL
    # `fo` is the same statement under an older name (Object Files (.obj) Appendix B1, superseded statements).
    kinds[(first == ord("f")) & ((second <= 32) | ((second == ord("o")) & third_blank))] = _FACE
    return kinds


def _lines_alone(text: Bytes, line_starts: Places, line_ends: Places, chosen: Places) -> tuple[Bytes, Places, Places]:
    """The chosen lines without any other between them, comments blanked: bytes, starts and ends of the lines."""
    starts, ends = line_starts[chosen], line_ends[chosen]
    if chosen[-1] - chosen[0] + 1 != len(chosen):
        inside = np.zeros(len(line_starts), dtype=bool)
        inside[chosen] = True
        lengths = ends - starts + 1
        body = text[line_starts[0] : int(line_ends[-1]) + 1][np.repeat(inside, line_ends - line_starts + 1)]
        text = np.full(len(body) + 2 * PAD, 10, dtype=np.uint8)
        text[PAD : PAD + len(body)] = body
        ends = np.cumsum(lengths) + PAD - 1
        starts = ends - lengths + 1
    low, high = int(starts[0]), int(ends[-1]) + 1
    if (text[low:high] == ord("#")).any():
        blanked = _MIDDLE_COMMENT.sub(lambda found: b" " * len(found[0]), text[low - 1 : high].tobytes())
        text[low - 1 : high] = np.frombuffer(blanked, dtype=np.uint8)
    return text, starts, ends


def _stacked(blocks: list[NDArray[np.float64]], left_out: float, least: int) -> NDArray[np.float64]:
    """Blocks of rows under each other, narrow ones filled up."""
    width = max((block.shape[1] for block in blocks), default=least)
    width = max(width, least)
    if blocks and all(block.shape[1] == width for block in blocks):
        return np.concatenate(blocks)
    table = np.full((sum(len(block) for block in blocks), width), left_out)
    row = 0
    for block in blocks:
        table[row : row + len(block), : block.shape[1]] = block
        row += len(block)
    return table


def _joined(blocks: list[NDArray[np.int32]]) -> NDArray[np.int32]:
    return np.concatenate(blocks) if blocks else np.zeros(0, dtype=np.int32)
