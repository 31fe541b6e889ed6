"""Thousands of waiting drops are worked off in steady memory: the real loop, hands and worker processes; drops of one file.

    python -m tests.gate.many --drops 10000

The judge is the driver's, since the gate is what is measured. Memory is the private and shared size of the loop and its
workers together (PSS), taken as they go.
"""

from __future__ import annotations

import argparse
import contextlib
import os
import signal
import sys
import tempfile
import time
from dataclasses import replace
from pathlib import Path

from tests.gate.driver import judge, paths_of
from tidegate.daemon.log import Log
from tidegate.daemon.loop import Loop
from tidegate.daemon.setup import GateSetup, LoopRules, WorkerRules
from tidegate.daemon.workers import Workers
from tidegate.gate.outcome import DropContext, Outcome
from tidegate.gate.publish import Delivered
from tidegate.gate.settings import GateRules

SHARES = (10, 50, 100)
"""Percent of the drops after which memory is taken."""
LOOKS = 20
"""So many times in a row, of which the largest counts: a worker may just be starting anew."""
GROWTH = 1.1
"""Memory at the end may be so many times that at the first share, and 8 MiB; common practice, no source."""


def judge_by_berth(root: Path, context: DropContext) -> list[Outcome]:
    """As the driver's judge, a hundred props to a place: the gate lists a place to find names that differ only in case."""
    berth = f"berth{int(context.drop[-6:]) // 100:03d}"
    return [replace(outcome, place=("quay", berth)) for outcome in judge(root, context)]


class Counter:
    """Counts what is handed over, takes memory at each share, and stops the loop when all is done."""

    def __init__(self, drops: int) -> None:
        self.drops = drops
        self.done = 0
        self.memory = dict.fromkeys(SHARES, 0)
        self.of_loop = dict.fromkeys(SHARES, 0)
        self.handles = dict.fromkeys(SHARES, 0)
        self.loop: Loop | None = None

    def told(self, delivered: tuple[Delivered, ...]) -> None:
        self.done += len(delivered)
        for share in SHARES:
            if 0 <= share * self.drops // 100 - self.done < LOOKS:
                own, others = memory_of_tree(os.getpid())
                self.memory[share] = max(self.memory[share], own + others)
                self.of_loop[share] = max(self.of_loop[share], own)
                self.handles[share] = max(self.handles[share], sum(1 for _ in Path("/proc/self/fd").iterdir()))
        if self.done >= self.drops and self.loop is not None:
            self.loop.stop()


def memory_of_tree(pid: int) -> tuple[int, int]:
    """KiB of a process, and of its children together."""
    children = Path(f"/proc/{pid}/task/{pid}/children").read_text().split()
    sizes = []
    for each in (pid, *map(int, children)):
        with contextlib.suppress(OSError, IndexError):  # a child that has just ended
            text = Path(f"/proc/{each}/smaps_rollup").read_text()
            sizes.append(int(text.split("\nPss:")[1].split()[0]))
    return sizes[0], sum(sizes[1:])


def run(base: Path, drops: int) -> tuple[Counter, float]:
    """Work off so many drops that lie there when the gate starts. Gives the counts and the seconds it took."""
    paths = paths_of(base)
    paths.inbox.mkdir(parents=True)
    for number in range(drops):
        (paths.inbox / f"crate{number:06d}.obj").write_bytes(b"crate %d\n" % number)
    counter = Counter(drops)
    setup = GateSetup(paths, judge_by_berth, GateRules(quiet=0.0, wait=0.0, stalled=0.0), native_events=False)
    loop = Loop(
        [setup],
        Workers(WorkerRules(), time.monotonic),
        LoopRules(scan=1.0),
        log=Log(level="error"),
        told=counter.told,
    )
    counter.loop = loop
    begin = time.monotonic()
    # A gate that does not come to an end is stopped. By a signal: the process is to have no other threads than the daemon's.
    signal.signal(signal.SIGALRM, lambda number, frame: loop.stop())
    signal.alarm(120 + drops)
    loop.run()
    signal.alarm(0)
    return counter, time.monotonic() - begin


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--drops", type=int, default=10_000)
    parser.add_argument("--on", default=None, help="folder to work in; /dev/shm leaves the disk's own speed out")
    options = parser.parse_args()
    with tempfile.TemporaryDirectory(prefix="tidegate-many-", dir=options.on) as home:
        counter, seconds = run(Path(home, "base"), options.drops)
        delivered = sum(1 for _ in Path(home, "base/delivery/quay").glob("*/*/v001/*.obj"))
        left = sum(1 for _ in Path(home, "base/inbox").iterdir())
    for share in SHARES:
        print(
            f"{share:4} %: {counter.memory[share] >> 10} MiB, {counter.of_loop[share] >> 10} of them the loop; "
            f"{counter.handles[share]} handles"
        )
    busy = sum(os.times()[:4])
    print(f"{delivered} of {options.drops} delivered, {left} left, {seconds:.0f} s: {delivered / seconds:.1f} a second")
    print(f"{busy:.0f} s of processor time")
    first, last = counter.memory[SHARES[0]], counter.memory[SHARES[-1]]
    steady = 0 < last <= first * GROWTH + (8 << 10)
    print("memory is steady" if steady else f"MEMORY GREW from {first} to {last} KiB")
    return 0 if steady and delivered == options.drops and not left else 1


if __name__ == "__main__":
    sys.exit(main())
