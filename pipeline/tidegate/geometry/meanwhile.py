"""Two pieces of work at a time: one in a thread of its own, while the caller goes on with another.

NumPy lets go of the interpreter inside its loops, so two cores are used. Each piece is worked out from the same arrays
by the same steps as it would be alone, so what comes out is the same bit for bit.
"""

from __future__ import annotations

import contextlib
import os
from collections.abc import Callable
from threading import Thread
from typing import Generic, TypeVar

from .beyond_numbers import beyond_numbers

Result = TypeVar("Result")


def more_than_one_core() -> bool:
    """Whether this process may run on more than one core. It decides how fast facts come, never what they are."""
    if hasattr(os, "sched_getaffinity"):
        return len(os.sched_getaffinity(0)) > 1
    return (os.cpu_count() or 1) > 1


class Meanwhile(Generic[Result]):
    """work: begun at once in a thread where `beside`, else done when it is asked for."""

    def __init__(self, work: Callable[[], Result], *, beside: bool) -> None:
        self._work = work
        self._found: list[Result] = []
        self._broke: BaseException | None = None
        self._thread: Thread | None = None
        if beside:
            thread = Thread(target=self._run, daemon=True)
            with contextlib.suppress(RuntimeError):  # no room for one more: done when it is asked for
                thread.start()
                self._thread = thread

    def result(self) -> Result:
        """What the work gave, waited for; raises what it raised."""
        if self._thread is not None:
            self._thread.join()
            self._thread = None
        elif not self._found and self._broke is None:
            self._run()
        if self._broke is not None:
            raise self._broke
        return self._found[0]

    def _run(self) -> None:
        try:
            with beyond_numbers():
                self._found.append(self._work())
        except BaseException as problem:  # noqa: BLE001 - told to whoever asks for the result
            self._broke = problem
