"""Judges for workers to be tried with: what a decoder does to its process."""

from __future__ import annotations

import os
import time
from pathlib import Path
from typing import ClassVar

from tests.gate.driver import judge
from tidegate.daemon.worker_main import SWOLLEN
from tidegate.gate.outcome import DropContext, Outcome


def by_name(root: Path, context: DropContext) -> list[Outcome]:
    """Crashes, hangs, eats memory or raises, as the drop's name says; else judges by content."""
    if context.drop.startswith("crash"):
        os.abort()
    if context.drop.startswith("leave"):
        os._exit(7)
    if context.drop.startswith("hang"):
        time.sleep(1000)
    if context.drop.startswith("eat"):
        raise MemoryError(len(bytearray(1 << 40)))
    if context.drop.startswith("swell"):
        bytearray(b"\1" * (SWOLLEN + (1 << 20)))  # written, so that it is resident
    if context.drop.startswith("raise"):
        raise ValueError("no such accessor")
    return judge(root, context)


def leave_at_once(line: object, parent: int) -> None:
    """A process that ends before it has begun."""
    os._exit(7)


class Weighty:
    """Gives its name as the reason; counts how often it was pickled."""

    pickled: ClassVar[int] = 0

    def __init__(self, name: str) -> None:
        self.name = name

    def __getstate__(self) -> dict[str, str]:
        Weighty.pickled += 1
        return {"name": self.name}

    def __call__(self, root: Path, context: DropContext) -> list[Outcome]:
        return [Outcome(context.drop, "returned", (), reason=self.name)]
