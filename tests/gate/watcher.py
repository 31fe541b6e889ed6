"""Looks at the trees all the while a gate is at work, and finds what is seen under a delivery name before it is whole.

The tracer makes the gate pause after every call that changes the disk, so that many looks fall between any two of them.
"""

from __future__ import annotations

import bisect
import itertools
import re
import statistics
import time
from collections.abc import Sequence
from dataclasses import dataclass

from tests.gate import law
from tests.gate.slot import Slot

CHANGES = "openat,write,pwrite64,mkdir,rename,renameat,renameat2,link,linkat,unlink,unlinkat,rmdir,ftruncate"
_STAMP = re.compile(r"^\d+ +(\d+\.\d+) \w+\(.*", re.MULTILINE)


@dataclass(frozen=True)
class Watched:
    """looks: how many in all. between: looks that lay whole between each call that changes the disk and the next."""

    wrong: tuple[str, ...]
    looks: int
    between: tuple[int, ...]


def summed_up(watched: Sequence[Watched]) -> str:
    """One line for a command's report."""
    between = [count for each in watched for count in each.between]
    return (
        f"watched {len(watched)} runs, {sum(each.looks for each in watched)} looks, "
        f"{statistics.median(between or [0]):.0f} between two calls, none between {between.count(0)} of {len(between)}"
    )


def pausing(milliseconds: float) -> list[str]:
    """The tracer's options."""
    pause = f"inject={CHANGES}:delay_exit={int(milliseconds * 1000)}"
    return ["-ttt", "-y", "-s", "0", "-e", f"trace={CHANGES}", "-e", pause]


def watch(slot: Slot, pause: float = 2.0) -> Watched:
    """Run the gate on the slot's scene as it stands, and watch. pause: milliseconds after each call."""
    stage = slot.stage
    assert stage is not None, "a scene was begun"
    begun: list[float] = []
    done: list[float] = []
    wrong: dict[str, None] = {}
    running = slot.start(pausing(pause))
    while not running.ended():
        begun.append(time.time())
        wrong |= dict.fromkeys(law.nothing_partial(stage))
        done.append(time.time())
    ended = running.wait()
    if ended.code:
        wrong[f"the run ended with {ended.code}: {ended.said[-600:]}"] = None
    wrong |= dict.fromkeys(law.fulfilled(stage))
    tops = [str(stage.base), *map(str, stage.elsewhere)]
    times = [
        float(match[1])
        for match in _STAMP.finditer(ended.log)
        if any(f"{top}/" in match[0] for top in tops) and "O_RDONLY" not in match[0]
    ]
    between = tuple(
        max(0, bisect.bisect_right(done, after) - bisect.bisect_left(begun, before))
        for before, after in itertools.pairwise(times)
    )
    return Watched(tuple(wrong), len(begun), between)
