"""What `watch --once` tells on standard error while it works: each verdict, and now and then how far it is.

On a terminal it is one line that is written over; into a file or a pipe it is lines; where log lines are wanted it is these.
"""

from __future__ import annotations

import contextlib
import threading
import time
from collections.abc import Callable, Sequence
from types import TracebackType
from typing import TYPE_CHECKING, TextIO

from tidegate.model.printable import printable

if TYPE_CHECKING:
    from tidegate.daemon.log import Log
    from tidegate.gate.publish import Delivered

QUIET = 10.0
"""Seconds of silence after which a line says that work goes on."""
ON_A_TERMINAL = 0.5


class AtWork:
    """Use as a context manager. counts: how many drops are in hand, and how many have not settled; from any thread.

    log: given where log lines are wanted, which tell verdicts by themselves. out: else; what other lines are written to must
    be this object, so that they do not end up in the middle of the line on a terminal.
    """

    def __init__(
        self,
        out: TextIO,
        counts: Callable[[], tuple[int, int]],
        log: Log | None = None,
        clock: Callable[[], float] = time.monotonic,
    ) -> None:
        self._out, self._counts, self._log, self._clock = out, counts, log, clock
        self._over = log is None and out.isatty()
        self._every = ON_A_TERMINAL if self._over else QUIET
        self._done, self._last = 0, ""
        self._began = self._spoke = clock()
        self._lock = threading.RLock()  # a line of the log comes back through `write`
        self._ended = threading.Event()
        self._thread = threading.Thread(target=self._until_ended, daemon=True)

    def __enter__(self) -> AtWork:
        self._thread.start()
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self._ended.set()
        self._thread.join()
        self._wipe()

    def told(self, delivered: Sequence[Delivered]) -> None:
        """Props have come to their places."""
        for each in delivered:
            if each.record.verdict == "kept":
                continue
            with self._lock:
                self._done += 1
                self._last = printable(each.record.prop)
                if self._log is None and not self._over:
                    self._line(f"{each.record.verdict}: {self._last}")

    def write(self, text: str) -> int:
        """A line of somebody else's, such as the log's. Raises OSError as a file does."""
        with self._lock:
            self._put("\r\x1b[K" if self._over else "")
            return self._out.write(text)

    def flush(self) -> None:
        self._out.flush()

    def say(self) -> None:
        """How far it is, where it is time to say so."""
        in_hand, arriving = self._counts()
        with self._lock:
            now = self._clock()
            if now - self._spoke < self._every:
                return
            self._spoke = now
            seconds = round(now - self._began)
            if self._log is not None:
                self._log(
                    "info", "at work", handed_over=self._done, in_hand=in_hand, arriving=arriving, seconds=seconds
                )
                return
            told = f"at work: {self._done} handed over, {in_hand} in hand, {arriving} arriving ({seconds} s)"
            if self._over:
                last = f"; last {self._last}" if self._last else ""
                self._put(f"\r\x1b[K{(told + last)[:79]}")
            else:
                self._line(told)

    def _until_ended(self) -> None:
        while not self._ended.wait(min(1.0, self._every)):
            self.say()

    def _line(self, text: str) -> None:
        self._spoke = self._clock()
        self._put(f"{text}\n")

    def _wipe(self) -> None:
        if self._over:
            self._put("\r\x1b[K")

    def _put(self, text: str) -> None:
        with contextlib.suppress(OSError):  # a full disk, or nobody reads it any more: no drop waits for that
            self._out.write(text)
            self._out.flush()
