"""Judges for workers to be tried with: what a decoder does to its process."""

from __future__ import annotations

import os
import time
from pathlib import Path

from tests.gate.driver import judge
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
    if context.drop.startswith("raise"):
        raise ValueError("no such accessor")
    return judge(root, context)
