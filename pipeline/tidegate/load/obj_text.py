"""The bytes of an OBJ or MTL file made ready for reading: line ends, continued lines, and what it is not.

Every change keeps the length, so a place in the text is a place in the file, and line numbers stay true.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from tidegate.errors import UnreadableFile

if TYPE_CHECKING:
    from collections.abc import Iterator

    from numpy.typing import NDArray

_UTF8_MARK = b"\xef\xbb\xbf"
_CONTINUED = re.compile(rb"\\[ \t]*\n")
_LARGE_FILE_POINTER = re.compile(rb"version https?://[^\n]*/spec/v\d|/annex/objects/")


@dataclass(frozen=True, slots=True, eq=False)
class ObjText:
    """data: the file with lines ended by newlines and continued lines joined by blanks.

    joined: places of the newlines that were blanked. complete: the last line has a line end.
    """

    path: str
    data: bytes
    joined: NDArray[np.int64]
    complete: bool

    def line_numbers(self, places: NDArray[np.intp], first: int) -> NDArray[np.int64]:
        """1-based lines of the file for the starts of neighbouring lines of `data`.

        first: number of the first of them, counted in `data`.
        """
        numbers = np.arange(first, first + len(places), dtype=np.int64)
        return numbers + np.searchsorted(self.joined, places) if len(self.joined) else numbers

    def numbered_lines(self) -> Iterator[tuple[int, bytes]]:
        """Each line with its 1-based number in the file."""
        start = 0
        for number, line in enumerate(self.data.split(b"\n"), 1):
            yield number + int(np.searchsorted(self.joined, start)), line
            start += len(line) + 1

    def last_line(self) -> tuple[int, bytes]:
        """1-based number and first word of the last line that holds anything."""
        held = self.data.rstrip()
        start = held.rfind(b"\n") + 1
        words = held[start:].split(None, 1)
        number = self.data.count(b"\n", 0, start) + int(np.searchsorted(self.joined, start)) + 1
        return number, words[0] if words else b""


def prepare(data: bytes, path: str) -> ObjText:
    """Makes the bytes of a text file ready. Raises UnreadableFile when they are empty or no text."""
    _refuse_other_content(data, path)
    complete = data.rstrip(b" \t").endswith((b"\n", b"\r"))
    if data.startswith(_UTF8_MARK):
        data = b"   " + data[3:]
    if b"\r" in data:
        data = data.replace(b"\r\n", b" \n").replace(b"\r", b"\n")
    joined: list[int] = []
    if b"\\" in data:

        def blanks(found: re.Match[bytes]) -> bytes:
            joined.append(found.end() - 1)
            return b" " * len(found[0])

        data = _CONTINUED.sub(blanks, data)
    return ObjText(path, data, np.array(joined, dtype=np.int64), complete)


def decode(name: bytes) -> tuple[str, str]:
    """A name as text, and the encoding it was read by: UTF-8, else Windows-1252, else Latin-1, which takes all."""
    for encoding in ("utf-8", "cp1252"):
        try:
            return name.decode(encoding), encoding
        except UnicodeDecodeError:
            continue
    return name.decode("latin-1"), "latin-1"


def _refuse_other_content(data: bytes, path: str) -> None:
    if not data:
        raise UnreadableFile(
            "the file is empty", path=path, came="0 bytes", help="export again, and hand over the whole file"
        )
    if _LARGE_FILE_POINTER.search(data[:200]):
        raise UnreadableFile(
            "this is the pointer text of a large-file store, not the file itself",
            path=path,
            came=data[:60].decode("latin-1").splitlines()[0],
            help="fetch the file from the store, then hand it over",
        )
    if data.startswith((b"\xff\xfe", b"\xfe\xff")):
        raise UnreadableFile("the text is UTF-16", path=path, expected="ASCII or UTF-8", help="save the file as UTF-8")
    nul = data.find(b"\0")
    if nul >= 0:
        raise UnreadableFile(
            "the file is binary, not text",
            path=path,
            came=f"a zero byte at offset {nul}",
            help="the copy may be damaged, or another format carries this suffix: export again",
        )
