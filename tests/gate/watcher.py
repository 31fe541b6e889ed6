"""Looks at the trees between every two calls of a gate at work, and finds what stands under a delivery name before it is whole.

The tracer stops the gate after each call that changes the disk (SIGSTOP, the call itself being done) and writes that down.
The watcher reads that record as it grows, looks once at everything, and lets the gate go on to its next call.
"""

from __future__ import annotations

import re
import signal
import time
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from tests.gate import law
from tests.gate.scenes import Stage
from tests.gate.slot import LONGEST, Slot

CHANGES = "openat,write,pwrite64,mkdir,rename,renameat,renameat2,link,linkat,unlink,unlinkat,rmdir,ftruncate"
STEPS = ["-y", "-s", "0", "-e", f"trace={CHANGES}", "-e", f"inject={CHANGES}:signal=STOP"]
"""The tracer's options."""
STOPPED = "--- stopped by SIGSTOP ---"
_CALL = re.compile(r"^\d+ +\w+\(.*")


@dataclass(frozen=True)
class Watched:
    """looks: how many in all. between: looks that lay whole between each call that changes the disk and the next."""

    wrong: tuple[str, ...]
    looks: int
    between: tuple[int, ...]

    @property
    def faults(self) -> list[str]:
        """What was seen, and where nobody looked."""
        blind = self.between.count(0)
        unseen = [f"no look fell between {blind} of {len(self.between)} pairs of calls"] if blind else []
        return [*self.wrong, *unseen]


def summed_up(watched: Sequence[Watched]) -> str:
    """One line for a command's report."""
    between = [count for each in watched for count in each.between]
    return (
        f"watched {len(watched)} runs, {sum(each.looks for each in watched)} looks, "
        f"none between {between.count(0)} of {len(between)} pairs of calls"
    )


def watch(slot: Slot) -> Watched:
    """Run the gate on the slot's scene as it stands, step by step, and watch."""
    stage = slot.stage
    assert stage is not None, "a scene was begun"
    wrong: dict[str, None] = {}
    looks = 0
    running = slot.start(STEPS)
    last = time.monotonic()
    record = _Growing(running.log)
    while not running.ended(0.0 if record.grew else 0.0005):
        for line in record.new_lines():
            if STOPPED in line:
                wrong |= dict.fromkeys(law.nothing_partial(stage))
                looks, last = looks + 1, time.monotonic()
                running.stop(signal.SIGCONT)
        if time.monotonic() > last + LONGEST:
            running.stop(signal.SIGKILL)  # its end is told below
    ended = running.wait()
    if ended.code:
        wrong[f"the run ended with {ended.code}: {ended.said[-600:]}"] = None
    wrong |= dict.fromkeys(law.fulfilled(stage))
    return Watched(tuple(wrong), looks, _between(ended.log, looks, stage))


class _Growing:
    """A file that another process writes, line by line."""

    def __init__(self, path: Path) -> None:
        self._path = path
        self._at = 0
        self._rest = ""
        self.grew = False

    def new_lines(self) -> list[str]:
        """What has come since, whole lines only."""
        with self._path.open("rb") as file:
            file.seek(self._at)
            data = file.read()
        self.grew = bool(data)
        self._at += len(data)
        *lines, self._rest = (self._rest + data.decode("utf-8", "replace")).split("\n")
        return lines


def _between(log: str, looks: int, stage: Stage) -> tuple[int, ...]:
    """How many looks lie between each call on our files that may change the disk, and the next.

    The gate went on from a stop only after its look, so each stop in the record is one; only a last one may lack it.
    """
    tops = [f"{top}/" for top in (stage.base, *stage.elsewhere)]
    counts: list[int] = []
    made = -1
    for line in log.splitlines():
        if STOPPED in line and looks:
            looks -= 1
            made += made >= 0
        elif _CALL.match(line) and any(top in line for top in tops) and "O_RDONLY" not in line:
            counts += [made] if made >= 0 else []
            made = 0
    return tuple(counts)
