"""All gates in turn: until told to stop, or until the inboxes are drained."""

from __future__ import annotations

import contextlib
import math
import signal
import time
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field
from datetime import UTC, datetime

from tidegate.errors import TidegateError
from tidegate.gate.lock import held
from tidegate.gate.publish import Delivered
from tidegate.gate.settle import Waiting

from .disk_work import Work
from .hands import Hands, Inline, Threads, Turns
from .log import Log
from .notify import Notify
from .one_gate import GateAtWork
from .setup import GateSetup, LoopRules
from .wake import PipeWake, Wake, Watch, has_native_events
from .workers import Examiner

Reload = Callable[[], Sequence[GateSetup] | None]


@dataclass(frozen=True, slots=True)
class Drained:
    """What `run_once` leaves. waiting: drops that have not settled, with the reason. held_up: (gate, what, why)."""

    delivered: tuple[Delivered, ...]
    waiting: tuple[Waiting, ...]
    held_up: tuple[tuple[str, str, str], ...]


@dataclass(slots=True)
class Loop:
    """clock: monotonic seconds. stopped_by: number of the signal that ended `run`, 0 for none.

    reload: new setups when the configuration changed, None when not; it raises a
    TidegateError for a broken edit, which is told, and the last good one is kept.
    """

    setups: Sequence[GateSetup]
    examiner: Examiner
    rules: LoopRules = field(default_factory=LoopRules)
    log: Log = field(default_factory=Log)
    wake: Wake = field(default_factory=PipeWake)
    clock: Callable[[], float] = time.monotonic
    wall: Callable[[], datetime] = lambda: datetime.now(UTC)
    notify: Notify = field(default_factory=Notify)
    reload: Reload = lambda: None
    told: Callable[[tuple[Delivered, ...]], None] = lambda delivered: None
    _gates: list[GateAtWork] = field(default_factory=list)
    stopped_by: int = 0
    _stopping: bool = False
    _next_reload: float = 0.0
    _hands: Hands[Work] = field(default_factory=Inline)

    def stop(self) -> None:
        """Ask the loop to end; from any thread or signal handler."""
        self._stopping = True
        self.wake.poke()

    def run_once(self, patience: float = 0.0) -> Drained:
        """Work off the inboxes and end.

        A drop that has not settled is waited for when it will by time alone within the quiet time and `patience`
        seconds; a step that may heal is waited for within `patience`.
        """
        delivered: list[Delivered] = []

        def told(each: tuple[Delivered, ...]) -> None:
            delivered.extend(each)
            self.told(each)

        with self._open(told):
            start = self.clock()
            limit = start + patience + 2 * max((each.setup.rules.quiet for each in self._gates), default=0.0)
            while not self._stopping:
                self._pass()
                if not any(gate.in_progress(self.clock(), limit) for gate in self._gates):
                    break
                self._sleep()
            waiting = tuple(each for gate in self._gates for each in gate.waiting)
            held_up = tuple((gate.name, row.key, row.reason) for gate in self._gates for row in gate.held_up())
        return Drained(tuple(delivered), waiting, held_up)

    def run(self) -> None:
        """Work until told to stop (SIGTERM, SIGINT, or `stop`). SIGHUP reads the configuration anew."""
        with self._open(self.told), self._signals():
            watch = self._watch()
            try:
                self.notify.ready(f"{len(self._gates)} gates open")
                while not self._stopping:
                    if self.clock() >= self._next_reload:
                        self._reload()
                        self._next_reload = self.clock() + self.rules.scan
                    self._pass()
                    self.notify.alive()
                    if not self._stopping:
                        self._sleep()
                self._wind_down()
            finally:
                if watch:
                    watch.close()

    def _pass(self) -> None:
        self._collect()
        for gate in self._gates:
            gate.step(self.clock(), self.clock)
        self._collect()

    def _collect(self, *, asking: bool = True) -> None:
        """Pass on what hands, and examiners where they are asked, have done, until there is no more."""
        by_name = {gate.name: gate for gate in self._gates}
        while True:
            # First: whoever has answered gets the next drop at once.
            answers = self.examiner.answers(self.clock()) if asking else []
            for answer in answers:
                by_name[answer.key[0]].answered(answer)
            works = self._hands.results()
            for work in works:
                by_name[work.gate].did(work, self.clock())
            if not works and not answers:
                return

    def _sleep(self, until: float | None = None) -> None:
        now = self.clock()
        times = [gate.next_due() for gate in self._gates if until is None]
        times += [self._next_reload] if self._next_reload and until is None else []
        times += [each for each in (self.examiner.next_deadline(), until) if each is not None]
        if self.notify.watchdog_seconds:
            times.append(now + self.notify.watchdog_seconds / 2)
        soonest = min(times, default=math.inf)
        seconds = max(0.0, min(soonest - now, self.rules.longest_scan))
        if self.wake.wait(seconds, self.examiner.connections()):
            for gate in self._gates:
                gate.poked(self.clock())

    def _wind_down(self) -> None:
        """Finish what is being examined within the grace, take nothing new."""
        self.notify.stopping()
        end = self.clock() + self.rules.grace
        self.log("info", "stopping", grace=self.rules.grace)
        while any(gate.examining for gate in self._gates) and self.clock() < end:
            self._sleep(until=end)
            self._collect()
            self.notify.alive()

    def _reload(self) -> None:
        try:
            setups = self.reload()
        except TidegateError as error:
            self.log.fault("error", "the configuration has a fault; the last good one stays in force", error)
            self.notify.status("configuration has a fault, last good one in force")
            return
        if setups is None:
            return
        by_name = {setup.paths.name: setup for setup in setups}
        for gate in self._gates:
            new = by_name.pop(gate.name, None)
            if new is not None and new.paths == gate.layout.paths:
                gate.reconfigure(new)
            else:
                self.log("warning", "a gate came, went or moved: restart to have that in force", gate=gate.name)
        for name in sorted(by_name):
            self.log("warning", "a gate came, went or moved: restart to have that in force", gate=name)
        self.log("info", "configuration read anew", gates=len(self._gates))

    @contextlib.contextmanager
    def _open(self, told: Callable[[tuple[Delivered, ...]], None]) -> Iterator[None]:
        """Hold each gate's lock, recover, and close everything in the end, however it ends."""
        with contextlib.ExitStack() as stack:
            stack.callback(self.examiner.close)
            self._hands = Threads(self.rules.hands, self._hand_done) if self.rules.hands else Inline()
            turns = Turns()
            for setup in self.setups:
                gate = GateAtWork(setup, self.rules, self.examiner, self._hands, turns, self.log, self.wall, told)
                stack.enter_context(held(gate.layout.lock))
                gate.open(self.clock())
                self._gates.append(gate)
                stack.callback(self._gates.remove, gate)
                stack.callback(gate.stop)
            stack.callback(self._collect, asking=False)  # the hands take nothing more by then
            stack.callback(self._hands.close)
            yield

    def _hand_done(self) -> None:
        self.wake.poke(look=False)

    @contextlib.contextmanager
    def _signals(self) -> Iterator[None]:
        def ask(number: int, frame: object) -> None:
            if number == getattr(signal, "SIGHUP", None):
                self._next_reload = 0.0
                self.wake.poke()
            else:
                self.stopped_by = number
                self.stop()

        names = ("SIGTERM", "SIGINT", "SIGHUP", "SIGBREAK")  # the last two where the system has them
        numbers = [getattr(signal, name) for name in names if hasattr(signal, name)]
        before = {number: signal.signal(number, ask) for number in numbers}
        try:
            yield
        finally:
            for number, handler in before.items():
                signal.signal(number, handler)

    def _watch(self) -> Watch | None:
        for gate in self._gates:
            wanted = gate.setup.native_events
            gate.native = has_native_events(gate.setup.paths.inbox) if wanted is None else wanted
        native = [gate.setup.paths.inbox for gate in self._gates if gate.native]
        if not native:
            return None
        watch = Watch(native, self.wake)
        unwatched = {folder for folder, _ in watch.unwatched}
        for gate in self._gates:
            gate.native = gate.native and gate.setup.paths.inbox not in unwatched
        for folder, why in watch.unwatched:
            self.log("warning", "no native events, the interval has to do", inbox=folder, why=why)
        return watch
