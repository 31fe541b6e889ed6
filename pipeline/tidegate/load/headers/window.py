"""A look at parts of a file, and the one exception by which a header reader says what is wrong with it."""

from __future__ import annotations

import struct
from pathlib import Path
from types import TracebackType
from typing import Any, BinaryIO

# What a reader fills in: names of `ImageHeader` fields and their values. Filled as it goes, so that what was read
# before the file broke off is kept.
Facts = dict[str, Any]

_BLOCK = 4096


class Wrong(Exception):
    """Raised by a header reader. problem: as in `ImageHeader.problem`. detail: one sentence without a full stop."""

    def __init__(self, problem: str, detail: str) -> None:
        super().__init__(detail)
        self.problem = problem
        self.detail = detail


class Window:
    """Reads at any offset of a file or of bytes, and no more than was asked for, rounded up to 4 KiB.

    Raises `Wrong("truncated", ...)` when a demanded byte lies beyond the end, `OSError` when the disk fails.
    """

    def __init__(self, source: Path | bytes) -> None:
        self._file: BinaryIO | None = None
        if isinstance(source, Path):
            self._file = source.open("rb", buffering=0)
            try:
                self.size = self._file.seek(0, 2)
            except BaseException:
                self._file.close()
                raise
            self._start, self._block = 0, b""
        else:
            self.size = len(source)
            self._start, self._block = 0, bytes(source)

    def __enter__(self) -> Window:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        if self._file is not None:
            self._file.close()

    def upto(self, offset: int, count: int) -> bytes:
        """At most `count` bytes from `offset`; fewer where the file ends."""
        if offset < 0 or offset >= self.size or count <= 0:
            return b""
        count = min(count, self.size - offset)
        begin = offset - self._start
        if begin < 0 or begin + count > len(self._block):
            if self._file is None:
                return self._block[offset : offset + count]
            self._file.seek(offset)
            self._start, self._block, begin = offset, self._fill(max(count, _BLOCK)), 0
        return self._block[begin : begin + count]

    def _fill(self, count: int) -> bytes:
        assert self._file is not None
        parts = []
        while count > 0 and (part := self._file.read(count)):
            parts.append(part)
            count -= len(part)
        return b"".join(parts)

    def at(self, offset: int, count: int, what: str) -> bytes:
        """Exactly `count` bytes from `offset`. what: named in the problem when they are not there."""
        data = self.upto(offset, count)
        if len(data) != count:
            raise Wrong(
                "truncated",
                f"the file ends at byte {self.size:,}, but {what} needs it to reach byte {offset + count:,}",
            )
        return data

    def unpack(self, layout: str, offset: int, what: str) -> tuple[Any, ...]:
        """`struct.unpack` of the bytes at `offset`."""
        return struct.unpack(layout, self.at(offset, struct.calcsize(layout), what))

    def must_reach(self, end: int, what: str) -> None:
        """Raises `Wrong` unless the file is at least `end` bytes long."""
        if end > self.size:
            raise Wrong("truncated", f"the file ends at byte {self.size:,}, but {what} needs it to reach byte {end:,}")
