"""Stops the gate at every disk call, by a system-call tracer, and holds it to the law: real processes, real disk.

    python -m tests.gate.kill_points              every scene, killed at every call, then again in recovery
    python -m tests.gate.kill_points --errors     every call fails instead: ENOSPC EIO EACCES EROFS
    python -m tests.gate.kill_points --scene re_drop --only 12

Each scene is also run once with a watcher that looks at the trees between every two calls, and so is the recovery from each
of its starting points. Needs strace with fault injection (`-e inject=`, since 4.15).
"""

from __future__ import annotations

import argparse
import os
import queue
import sys
import tempfile
import time
from collections.abc import Callable, Iterable, Iterator, Sequence
from concurrent.futures import ThreadPoolExecutor
from contextlib import ExitStack, contextmanager
from pathlib import Path
from typing import TypeVar

from tests.gate import volumes
from tests.gate.points import ERRORS, MISSED, Point, fail_once, kill_once, recovery_points, scene_points, starts, strike
from tests.gate.scenes import SCENES
from tests.gate.slot import Slot
from tests.gate.watcher import Watched, summed_up, watch

T = TypeVar("T")

Job = tuple[str, Point, str, Point | None]
"""Scene, point, the error there ("" to kill), and where recovery is killed in its turn."""


class Pool:
    """Slots, and a thread for each: most of a run is waiting for the disk."""

    def __init__(self, slots: Sequence[Slot]) -> None:
        self._slots: queue.SimpleQueue[Slot] = queue.SimpleQueue()
        for slot in slots:
            self._slots.put(slot)
        self._threads = ThreadPoolExecutor(len(slots))

    def each(self, jobs: Iterable[Callable[[Slot], T]]) -> Iterator[T]:
        """Results in order of the jobs."""
        return self._threads.map(self._one, jobs)

    def _one(self, job: Callable[[Slot], T]) -> T:
        slot = self._slots.get()
        try:
            return job(slot)
        finally:
            self._slots.put(slot)


@contextmanager
def pool_of(count: int, tooth: str = "") -> Iterator[Pool]:
    with ExitStack() as stack:
        top = Path(stack.enter_context(tempfile.TemporaryDirectory(prefix="tidegate-kill-")))
        slots = []
        for number in range(count):
            home = top / f"{number:02d}"
            home.mkdir()
            slots.append(stack.enter_context(Slot(home, tooth)))
        yield Pool(slots)


def run_job(job: Job) -> Callable[[Slot], list[str]]:
    scene, point, error, again = job
    if error:
        return lambda slot: fail_once(slot, scene, point, error)
    return lambda slot: kill_once(slot, scene, point, again)


def watched(scene: str, start: Point | None) -> Callable[[Slot], Watched]:
    """The scene, or its recovery from a kill at `start`, with a watcher."""

    def run(slot: Slot) -> Watched:
        slot.begin(scene)
        if start:
            strike(slot, start)
        return watch(slot)

    return run


def listed(scene: str, pool: Pool, options: argparse.Namespace) -> tuple[list[Point], list[Point], list[Job]]:
    """A scene's points, the starting points of its recovery, and all runs to be made."""
    (points,) = pool.each([lambda slot: scene_points(slot, scene)])
    begins = [] if options.errors or options.only is not None else list(starts(points))
    points = points[:: options.every] if options.only is None else [points[options.only]]
    if options.errors:
        return points, begins, [(scene, point, error, None) for point in points for error in ERRORS]
    jobs: list[Job] = [(scene, point, "", None) for point in points]

    def lists(start: Point) -> Callable[[Slot], list[Point]]:
        return lambda slot: recovery_points(slot, scene, start)

    for start, found in zip(begins, pool.each(map(lists, begins)), strict=True):
        jobs += [(scene, start, "", each) for each in found[:: options.every]]
    return points, begins, jobs


def _busy() -> float:
    """Seconds of processor time of this process and of all it started and waited for."""
    used = os.times()
    return used.user + used.system + used.children_user + used.children_system


def main(arguments: Sequence[str] | None = None) -> int:
    parser = argparse.ArgumentParser(description="kill the gate at every disk call")
    parser.add_argument("--scene", action="append", choices=sorted(SCENES))
    parser.add_argument("--errors", action="store_true", help="let calls fail instead")
    parser.add_argument("--every", type=int, default=1, help="only each so manieth point")
    parser.add_argument("--only", type=int, help="one point, by its place in the list")
    parser.add_argument("--shard", default="1/1", metavar="I/N", help="the Ith of N parts of the runs")
    parser.add_argument("--jobs", type=int, default=4 * len(os.sched_getaffinity(0)), help="runs at a time")
    options = parser.parse_args(arguments)
    shard, shards = map(int, options.shard.split("/"))
    volumes.keep_to_ourselves()
    count = calls = missed = 0
    wrong: list[str] = []
    begin = time.monotonic()
    with pool_of(options.jobs) as pool:
        for scene in options.scene or SCENES:
            since = time.monotonic()
            points, begins, jobs = listed(scene, pool, options)
            jobs = jobs[shard - 1 :: shards]
            looks = [] if options.only is not None else [None, *begins]
            seen = list(pool.each(watched(scene, start) for start in looks))
            found = [fault for faults in pool.each(map(run_job, jobs)) for fault in faults]
            elsewhere = sum(MISSED in fault for fault in found)
            found += [f"{scene}, watched: {fault}" for each in seen for fault in each.faults]
            count, calls, missed = count + len(jobs), calls + len(points), missed + elsewhere
            wrong += found
            print(
                f"{scene:15} {len(points):4} calls, {len(jobs):5} runs, {time.monotonic() - since:4.0f} s; "
                f"{summed_up(seen)}; {len(found)} faults, {elsewhere} of them missed",
                flush=True,
            )
            for fault in found[:20]:
                print("   ", fault, flush=True)
    print(
        f"{calls} calls, {count} runs, {time.monotonic() - begin:.0f} s on {len(os.sched_getaffinity(0))} cores, "
        f"{_busy():.0f} s of them busy: "
        f"{len(wrong)} faults, {missed} of them a tracer that struck elsewhere"
    )
    return 1 if wrong else 0


if __name__ == "__main__":
    sys.exit(main())
