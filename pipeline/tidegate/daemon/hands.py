"""Who does the disk work of the gates: threads, since it is mostly waiting for the disk; or the loop itself."""

from __future__ import annotations

import contextlib
import threading
from collections import deque
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from typing import Protocol, TypeVar

T = TypeVar("T")


class Hands(Protocol[T]):
    """Work goes in, results come out in any order. Work must not raise."""

    def do(self, work: Callable[[], T]) -> None: ...
    def results(self) -> list[T]: ...
    def close(self) -> None: ...


class Inline(Hands[T]):
    """Does it at once."""

    def __init__(self) -> None:
        self._results: list[T] = []

    def do(self, work: Callable[[], T]) -> None:
        self._results.append(work())

    def results(self) -> list[T]:
        results, self._results = self._results, []
        return results

    def close(self) -> None:
        """Nothing is under way here."""


class Threads(Hands[T]):
    """done: called, in a thread, whenever a result is there."""

    def __init__(self, count: int, done: Callable[[], None]) -> None:
        self._pool = ThreadPoolExecutor(count, thread_name_prefix="tidegate hand")
        self._results: deque[T] = deque()
        self._done = done

    def do(self, work: Callable[[], T]) -> None:
        def run() -> None:
            self._results.append(work())
            self._done()

        self._pool.submit(run)

    def results(self) -> list[T]:
        found = []
        while self._results:
            found.append(self._results.popleft())
        return found

    def close(self) -> None:
        """Wait for what is under way."""
        self._pool.shutdown(wait=True)


class Turns:
    """Lets one at a time work on each of some names: two drops of one prop must not both become its next version."""

    def __init__(self) -> None:
        self._taken: set[str] = set()
        self._changed = threading.Condition()

    @contextlib.contextmanager
    def on(self, names: frozenset[str]) -> Iterator[None]:
        """Wait until nobody works on any of the names, then hold them all."""
        with self._changed:
            self._changed.wait_for(lambda: not names & self._taken)
            self._taken |= names
        try:
            yield
        finally:
            with self._changed:
                self._taken -= names
                self._changed.notify_all()
