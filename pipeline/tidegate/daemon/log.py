"""Log lines as text or as JSON, one event a line, on standard error."""

from __future__ import annotations

import json
import sys
import warnings
from collections.abc import Callable
from datetime import UTC, datetime
from typing import TextIO

from tidegate.errors import TidegateError
from tidegate.gate.faults import shown

LEVELS = ("debug", "info", "warning", "error")


class Log:
    """form: "text" or "json". level: the lowest that is written. wall: gives the time, aware.

    Values are made printable, so that a file name can neither break a line nor drive a terminal.
    """

    def __init__(
        self,
        form: str = "text",
        level: str = "info",
        out: TextIO | None = None,
        wall: Callable[[], datetime] = lambda: datetime.now(UTC),
    ) -> None:
        self.form = form
        self.lowest = LEVELS.index(level)
        self.out = out
        self.wall = wall
        self._lost = 0

    def tells(self, level: str) -> bool:
        """Whether lines of that level are written."""
        return LEVELS.index(level) >= self.lowest

    def __call__(self, level: str, message: str, **values: object) -> None:
        """One line: `message` is a plain phrase, values name what it happened to."""
        if not self.tells(level):
            return
        time = self.wall().astimezone(UTC).strftime("%Y-%m-%dT%H:%M:%S.%fZ")
        plain = {key: value if isinstance(value, int | float) else shown(str(value)) for key, value in values.items()}
        if self.form == "json":
            line = json.dumps({"time": time, "level": level, "message": message, **plain})
        else:
            line = f"{time} {level:7} {message}" + "".join(f"  {key}: {value}" for key, value in plain.items())
        out = self.out or sys.stderr
        try:
            out.write(line + "\n")
            out.flush()
        except OSError:  # a full disk under the log, or nobody reads it any more: no drop waits for that
            self._lost += 1
            return
        if self._lost:
            lost, self._lost = self._lost, 0
            self("warning", "the log could not be written for a while", lines=lost)

    def hear_warnings(self) -> None:
        """From now on, what Python or a library warns of is a line as well, instead of text between the lines."""

        def told(
            message: Warning | str,
            category: type[Warning],
            filename: str,
            lineno: int,
            file: TextIO | None = None,
            line: str | None = None,
        ) -> None:
            self("warning", "a library warns", what=message, kind=category.__name__, at=f"{filename}:{lineno}")

        warnings.showwarning = told

    def fault(self, level: str, message: str, error: TidegateError, **values: object) -> None:
        """A line for one of our errors, with everything it carries."""
        told = {key: getattr(error, key, None) for key in ("what", "path", "line", "expected", "came", "done", "help")}
        self(level, message, **values, **{key: value for key, value in told.items() if value})
