"""One line of progress on a terminal, for anything that takes over a second. Silent everywhere else."""

from __future__ import annotations

import sys
import threading
import time
from types import TracebackType
from typing import TextIO

from tidegate.model.printable import printable

FIRST_AFTER = 1.0  # seconds
EVERY = 0.5


class Progress:
    """Use as a context manager; call `step` before each piece of work and `clear` before anything is printed.

    A thread of its own shows the line, so that one long piece of work is seen as well as many short ones. Writes to
    `out` (standard error) only.
    """

    def __init__(self, total: int, what: str, out: TextIO | None = None) -> None:
        self.total = total
        self.what = what
        self.done = 0
        self._out = out or sys.stderr
        self._wanted = self._out.isatty()
        self._started = time.monotonic()
        self._name = ""
        self._shown = False
        self._lock = threading.Lock()
        self._ended = threading.Event()
        self._thread = threading.Thread(target=self._show_until_ended, daemon=True)

    def __enter__(self) -> Progress:
        if self._wanted:
            self._thread.start()
        return self

    def step(self, name: str) -> None:
        """Say what is being worked on now."""
        with self._lock:
            self.done += 1
            self._name = printable(name)

    def clear(self) -> None:
        """Take the line away, and show none until the next `step`."""
        with self._lock:
            self._name = ""
            self._wipe()

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self._ended.set()
        if self._thread.is_alive():
            self._thread.join()
        self._wipe()

    def _show_until_ended(self) -> None:
        pause = FIRST_AFTER
        while not self._ended.wait(pause):
            pause = EVERY
            with self._lock:
                if self._name:
                    seconds = time.monotonic() - self._started
                    line = f"{self.what} {self.done} of {self.total}: {self._name} ({seconds:.0f} s)"
                    self._out.write(f"\r\x1b[K{line[:79]}")
                    self._out.flush()
                    self._shown = True

    def _wipe(self) -> None:
        if self._shown:
            self._out.write("\r\x1b[K")
            self._out.flush()
            self._shown = False
