"""Examining in separate processes: what crashes, hangs or eats memory there costs one drop and nothing else.

Processes are kept and used again, so a drop does not pay for starting one. There are two lanes: a huge drop may take any
process but the last, which is kept for small ones.
"""

from __future__ import annotations

import contextlib
import multiprocessing
import os
import signal
from collections import deque
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field
from multiprocessing.connection import Connection, wait
from multiprocessing.process import BaseProcess
from pathlib import Path
from typing import Any, Protocol

from tidegate.errors import PermanentFault
from tidegate.gate.faults import shown
from tidegate.gate.outcome import DropContext, Examine, Outcome

from . import worker_main
from .log import Log
from .setup import DropLimits, WorkerRules

FIRST_PAUSE, LONGEST_PAUSE = 1.0, 60.0  # seconds until a process is tried again that could not begin


@dataclass(frozen=True, slots=True)
class Job:
    """key: (gate, ticket). bytes: of the drop. largest: of its largest file, and which that is."""

    key: tuple[str, str]
    examine: Examine
    root: Path
    context: DropContext
    bytes: int
    limits: DropLimits = field(default_factory=DropLimits)
    largest: tuple[int, str] = (0, "")


@dataclass(frozen=True, slots=True)
class Answer:
    """outcomes: () when `fault` says why the drop could not be judged."""

    key: tuple[str, str]
    outcomes: tuple[Outcome, ...]
    fault: PermanentFault | None = None


class Examiner(Protocol):
    """What the loop needs of those who examine."""

    def submit(self, job: Job) -> None: ...
    def answers(self, now: float) -> list[Answer]: ...
    def connections(self) -> Sequence[Any]: ...
    def next_deadline(self) -> float | None: ...
    def cancel(self, key: tuple[str, str]) -> None: ...
    def reconfigure(self, rules: WorkerRules) -> None: ...
    def close(self) -> None: ...


@dataclass(slots=True)
class InProcess:
    """Examines right here, at once: for tests and small tools. A crash is ours then."""

    _answers: list[Answer] = field(default_factory=list)

    def submit(self, job: Job) -> None:
        self._answers.append(Answer(job.key, tuple(job.examine(job.root, job.context))))

    def answers(self, now: float) -> list[Answer]:
        answers, self._answers = self._answers, []
        return answers

    def connections(self) -> Sequence[Any]:
        return ()

    def next_deadline(self) -> float | None:
        return 0.0 if self._answers else None

    def cancel(self, key: tuple[str, str]) -> None:
        self._answers = [answer for answer in self._answers if answer.key != key]

    def reconfigure(self, rules: WorkerRules) -> None:
        """There is one process here, whatever the rules."""

    def close(self) -> None:
        self._answers = []


@dataclass(slots=True, eq=False)
class _Worker:
    """told: gate -> its examine, as the process has it. It carries all rule sets, so it is sent only when it is another."""

    process: BaseProcess
    line: Connection
    job: Job | None = None
    deadline: float = 0.0
    done: int = 0
    begun: bool = False
    told: dict[str, Examine] = field(default_factory=dict)


class Workers:
    """The real ones. clock: monotonic seconds, for the time limit.

    A process that ends before it has begun (no memory, no more processes allowed) is not the doing of its drop: the drop is
    handed out again after a pause, and the log says so.
    """

    def __init__(self, rules: WorkerRules, clock: Callable[[], float], log: Log | None = None) -> None:
        self.rules = rules
        self._log = log or Log(level="error")
        self._pause, self._rest_until = 0.0, 0.0
        self._clock = clock
        self._count = max(2, rules.count)
        self._context = multiprocessing.get_context("spawn")
        self._workers: list[_Worker] = []
        self._small: deque[Job] = deque()
        self._huge: deque[Job] = deque()
        self._answers: list[Answer] = []
        self._number = 0

    def submit(self, job: Job) -> None:
        if job.largest[0] > job.limits.file_bytes:
            what = f"{shown(job.largest[1])} has {job.largest[0]} bytes, more than the {job.limits.file_bytes} a file may have"
            self._answers.append(_unjudged(job, what, _TOO_BIG))
            return
        (self._huge if job.bytes >= self.rules.huge else self._small).append(job)
        self._hand_out()

    def answers(self, now: float) -> list[Answer]:
        """What came since the last call. Ends those whose time is over at monotonic time `now`."""
        busy = [worker for worker in self._workers if worker.job]
        ready = set(wait([worker.line for worker in busy], 0)) if busy else set()
        for worker in busy:
            if worker.line in ready or now >= worker.deadline:
                self._answers += self._from(worker, worker.line in ready)
                self._hand_out()
        self._hand_out()
        answers, self._answers = self._answers, []
        return answers

    def connections(self) -> Sequence[Any]:
        return [worker.line for worker in self._workers if worker.job]

    def next_deadline(self) -> float | None:
        if self._answers:
            return 0.0
        times = [worker.deadline for worker in self._workers if worker.job]
        times += [self._rest_until] if self._pause and (self._small or self._huge) else []
        return min(times, default=None)

    def cancel(self, key: tuple[str, str]) -> None:
        """Let a job be; its process is ended if it has begun."""
        for queue in (self._small, self._huge):
            for job in [job for job in queue if job.key == key]:
                queue.remove(job)
        for worker in list(self._workers):
            if worker.job and worker.job.key == key:
                self._end(worker)
        self._answers = [answer for answer in self._answers if answer.key != key]

    def reconfigure(self, rules: WorkerRules) -> None:
        """Go on with more or fewer processes. Those beyond the number end when they are idle."""
        self.rules = rules
        self._count = max(2, rules.count)
        for worker in [each for each in self._workers if each.job is None][: max(0, len(self._workers) - self._count)]:
            self._end(worker)
        self._hand_out()

    def close(self) -> None:
        for worker in list(self._workers):
            self._end(worker)
        self._small.clear()
        self._huge.clear()

    def _hand_out(self) -> None:
        while self._clock() >= self._rest_until and (queue := self._next_queue()) is not None:
            try:
                worker = next((each for each in self._workers if each.job is None), None) or self._started()
            except OSError as error:
                self._take_a_rest(str(error))
                return
            job = queue.popleft()
            worker.job, worker.deadline = job, self._clock() + job.limits.seconds
            self._number += 1
            try:
                self._tell(worker, job)
            except OSError as error:  # it ended while it was idle, or before it began
                self._end(worker)
                self._hand_out_again(job, str(error))
            except ValueError as error:
                self._end(worker)
                self._answers.append(_unjudged(job, f"its worker could not be told: {error}", _CRASHED))

    def _hand_out_again(self, job: Job, why: str) -> None:
        (self._huge if job.bytes >= self.rules.huge else self._small).appendleft(job)
        self._take_a_rest(why)

    def _take_a_rest(self, why: str) -> None:
        self._pause = min(LONGEST_PAUSE, 2 * self._pause or FIRST_PAUSE)
        self._rest_until = self._clock() + self._pause
        help = "free memory or raise the limit of processes; drops wait meanwhile and nothing is lost"
        self._log("error", "no process to examine drops in", why=why, again_in=self._pause, help=help)

    def _tell(self, worker: _Worker, job: Job) -> None:
        gate = job.key[0]
        news = () if worker.told.get(gate) is job.examine else (job.examine,)
        worker.line.send((self._number, gate, news, job.root, job.context, job.limits.memory))
        worker.told[gate] = job.examine

    def _next_queue(self) -> deque[Job] | None:
        busy = [worker.job for worker in self._workers if worker.job]
        if len(busy) >= self._count:
            return None
        huge = sum(job.bytes >= self.rules.huge for job in busy)
        if self._huge and huge < self._count - 1 and (huge == 0 or not self._small):
            return self._huge
        return self._small or None

    def _from(self, worker: _Worker, ready: bool) -> list[Answer]:
        """What became of a worker's job, [] when that is not known yet. ready: something came down its line; else its time
        is over.
        """
        job = worker.job
        assert job is not None, "only busy workers are asked"
        if not ready:
            self._end(worker)
            return [_unjudged(job, f"examining it took longer than {job.limits.seconds:g} seconds", _TOO_BIG)]
        if worker.begun:
            return [self._answer(worker, job)]
        try:
            worker.begun = worker.line.recv() == worker_main.BEGUN
        except (EOFError, OSError):
            worker.process.join(5)
            why = f"a process {_ending(worker.process.exitcode)} before it could begin"
            self._end(worker)
            self._hand_out_again(job, why)
        else:
            self._pause = 0.0
        return []

    def _answer(self, worker: _Worker, job: Job) -> Answer:
        try:
            _, kind, value, swollen = worker.line.recv()
            worker.job = None
            worker.done += 1
            spent = swollen or kind == worker_main.TOO_MUCH or worker.done >= self.rules.jobs
            if spent or len(self._workers) > self._count:
                self._end(worker)
            if kind == worker_main.DONE:
                return Answer(job.key, value)
            if kind == worker_main.FAILED:
                return _unjudged(job, value, _CRASHED)
            what = f"examining it asked for more than {job.limits.memory >> 20} MiB of memory"
            return _unjudged(job, what, _TOO_BIG)
        except (EOFError, OSError, ValueError, AttributeError, ImportError) as error:
            worker.process.join(5)
            code = worker.process.exitcode
            self._end(worker)
            what = f"its worker {_ending(code)}" if code else f"its worker answered nonsense: {error}"
            return _unjudged(job, what, _CRASHED)

    def _started(self) -> _Worker:
        ours, theirs = self._context.Pipe()
        process = self._context.Process(
            target=worker_main.serve,
            args=(theirs, os.getpid()),
            name="tidegate worker",
            daemon=True,
        )
        with _signals_held_back():
            process.start()
        theirs.close()
        worker = _Worker(process, ours)
        self._workers.append(worker)
        return worker

    def _end(self, worker: _Worker) -> None:
        self._workers.remove(worker)
        worker.line.close()
        if worker.process.exitcode is None:
            worker.process.kill()
        worker.process.join()
        worker.process.close()


@contextlib.contextmanager
def _signals_held_back() -> Iterator[None]:
    """A process begun inside has signals to stop held back until it can say that it ignores them."""
    if not hasattr(signal, "pthread_sigmask"):
        yield
        return
    from multiprocessing import resource_tracker

    resource_tracker.ensure_running()  # it lets signals through again when it starts
    before = signal.pthread_sigmask(signal.SIG_BLOCK, {signal.SIGINT, signal.SIGTERM, signal.SIGHUP})
    try:
        yield
    finally:
        signal.pthread_sigmask(signal.SIG_SETMASK, before)


_TOO_BIG = "make it smaller (fewer triangles, smaller maps), or have the gate's limits raised; then drop it again"
_CRASHED = (
    "export it anew and drop it again; if that ends the same way, it is a fault of tidegate: "
    "report it with the log and, if you may, the files"
)


def _unjudged(job: Job, what: str, help: str) -> Answer:
    return Answer(job.key, (), PermanentFault(what, expected=f"{job.limits}", help=help))


def _ending(code: int | None) -> str:
    if code is None:
        return "went silent"
    if code < 0:
        with contextlib.suppress(ValueError):
            return f"was ended by {signal.Signals(-code).name}"
    return f"ended with exit code {code}"
