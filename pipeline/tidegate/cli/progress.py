"""One line of progress on a terminal, for anything that takes over a second. Silent everywhere else."""

from __future__ import annotations

import sys
import time
from types import TracebackType


class Progress:
    """Use as a context manager; call `step` before each piece of work. Writes to stderr only."""

    def __init__(self, total: int, what: str) -> None:
        self.total = total
        self.what = what
        self.done = 0
        self.started = time.monotonic()
        self.shown = False
        self.wanted = sys.stderr.isatty()

    def __enter__(self) -> Progress:
        return self

    def step(self, name: str) -> None:
        """Say what is being worked on, once a second has gone by."""
        self.done += 1
        if self.wanted and time.monotonic() - self.started > 1.0:
            line = f"{self.what} {self.done} of {self.total}: {name}"
            sys.stderr.write(f"\r\x1b[K{line[:100]}")
            sys.stderr.flush()
            self.shown = True

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        if self.shown:
            sys.stderr.write("\r\x1b[K")
            sys.stderr.flush()
