"""All gates in turn: until told to stop, or until the inboxes are drained."""

from __future__ import annotations

import contextlib
import math
import signal
import time
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field, replace
from datetime import UTC, datetime

from tidegate.errors import TidegateError
from tidegate.gate.publish import Delivered
from tidegate.gate.settle import Waiting

from .disk_work import Work
from .gates import Gates
from .hands import Hands, Inline, Threads, Turns
from .log import Log
from .notify import Notify
from .one_arena import share_one_arena
from .one_gate import GateAtWork
from .setup import Everything, GateSetup, LoopRules
from .wake import PipeWake, Wake, Watch
from .workers import Examiner

Reload = Callable[[], Everything | None]


@dataclass(frozen=True, slots=True)
class Drained:
    """What `run_once` leaves. waiting: drops that have not settled, with the reason.

    held_up: (gate, what, why), of what was tried and could not be done.
    """

    delivered: tuple[Delivered, ...]
    waiting: tuple[Waiting, ...]
    held_up: tuple[tuple[str, str, str], ...]


@dataclass(slots=True)
class Loop:
    """clock: monotonic seconds. stopped_by: number of the signal that ended `run`, 0 for none.

    reload: everything when the configuration changed, None when not; it raises a
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
    stopped_by: int = 0
    _gates: Gates = field(init=False)
    _stopping: bool = False
    _asked_to_reload: bool = False
    _fault: str = ""
    _said: str = ""
    _next_reload: float = 0.0
    _hands: Hands[Work] = field(default_factory=Inline)
    _counts: tuple[int, int] = (0, 0)

    def counts(self) -> tuple[int, int]:
        """How many drops are in hand, and how many have not settled; from any thread."""
        return self._counts

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

        with self._open(told, None):
            start = self.clock()
            limit = start + patience + 2 * max((each.setup.rules.quiet for each in self._gates), default=0.0)
            while not self._stopping:
                self._pass()
                if not any(gate.in_progress(self.clock(), limit) for gate in self._gates):
                    break
                self._sleep()
            waiting = tuple(each for gate in self._gates for each in gate.waiting)
            held_up = tuple(
                (gate.name, row.key, row.reason) for gate in self._gates for row in gate.held_up() if row.tries
            )
        return Drained(tuple(delivered), waiting, held_up)

    def run(self) -> None:
        """Work until told to stop (SIGTERM, SIGINT, or `stop`). SIGHUP reads the configuration anew.

        Told to stop once more, it still ends in order: signals are ours until all is closed.
        """
        share_one_arena()
        watch = Watch(self.wake)
        with contextlib.closing(watch), self._signals(), self._open(self.told, watch):
            self._say(ready=True)
            while not self._stopping:
                if self.clock() >= self._next_reload:
                    self._next_reload = self.clock() + self.rules.scan  # first: a SIGHUP meanwhile asks once more
                    self._reload()
                self._pass()
                self.notify.alive()
                if not self._stopping:
                    self._sleep()
            self._wind_down()

    def _say(self, *, ready: bool = False) -> None:
        """Tell the manager how we are, when that is another thing than before. ready: in any case."""
        shut = sum(not gate.is_open for gate in self._gates.serving)
        count = len(self._gates.serving) - shut
        said = f"{count} gate{'' if count == 1 else 's'} open" + (f", {shut} shut" if shut else "") + self._fault
        if ready:
            self.notify.ready(said)
        elif said != self._said:
            self.notify.status(said)
        self._said = said

    def _pass(self) -> None:
        self._collect()
        self._gates.turn_over(self.clock())
        for gate in self._gates.serving:
            gate.step(self.clock(), self.clock)
        self._collect()
        self._gates.turn_over(self.clock())
        self._counts = sum(gate.in_hand for gate in self._gates), sum(len(gate.waiting) for gate in self._gates)
        self._say()

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
        times = self._gates.next_due(now) if until is None else []
        times += [self._next_reload] if self._next_reload and until is None else []
        times += [each for each in (self.examiner.next_deadline(), until) if each is not None]
        if self.notify.watchdog_seconds:
            times.append(now + self.notify.watchdog_seconds / 2)
        soonest = min(times, default=math.inf)
        seconds = max(0.0, min(soonest - now, self.rules.longest_scan))
        if self.wake.wait(seconds, self.examiner.connections()):
            for gate in self._gates.serving:
                gate.poked(self.clock())

    def _wind_down(self) -> None:
        """Finish what is being examined within the grace, take nothing new."""
        self.notify.stopping()
        end = self.clock() + self.rules.grace
        self.log("info", "stopping", grace=self.rules.grace)
        while any(gate.busy for gate in self._gates) and self.clock() < end:
            self._sleep(until=end)
            self._collect()
            self.notify.alive()

    def _reload(self) -> None:
        asked, self._asked_to_reload = self._asked_to_reload, False
        if asked:
            self.notify.reloading(int(self.clock() * 1e6))
            for gate in self._gates.serving:
                gate.hurry()
        try:
            new = self.reload()
        except TidegateError as error:
            self.log.fault("error", "the configuration has a fault; the last good one stays in force", error)
            self._fault = "; the configuration has a fault, the last good one is in force"
            new = None
        else:
            if new is not None:
                self._fault = ""
                self._become(new)
            elif asked:
                self.log("info", "the configuration is as it was")
        self._say(ready=asked)

    def _become(self, new: Everything) -> None:
        self.rules = replace(self.rules, scan=new.rules.scan, grace=new.rules.grace)
        self.examiner.reconfigure(new.workers)
        for gate in self._gates.serving:
            gate.shared.rules = self.rules
        self._gates.become(new.gates, self.clock(), self.rules.grace)
        self.log("info", "configuration read anew", gates=len(new.gates))

    @contextlib.contextmanager
    def _open(self, told: Callable[[tuple[Delivered, ...]], None], watch: Watch | None) -> Iterator[None]:
        """Open each gate, and close everything in the end, however it ends.

        Raises the fault when another process serves every one of them.
        """
        self._hands = Threads(self.rules.hands, self._hand_done) if self.rules.hands else Inline()
        turns = Turns()

        def make(setup: GateSetup) -> GateAtWork:
            return GateAtWork(
                setup, self.rules, self.examiner, self._hands, turns, self.log, self.wall, told, watch=watch
            )

        self._gates = Gates(make, self.log)
        with contextlib.ExitStack() as stack:
            stack.callback(self.examiner.close)
            stack.callback(self._gates.close)
            stack.callback(self._collect, asking=False)  # the hands take nothing more by then
            stack.callback(self._hands.close)
            self._gates.become(self.setups, self.clock(), self.rules.grace)
            refused = [gate.why_shut for gate in self._gates if gate.elsewhere and gate.why_shut]
            if refused and len(refused) == len(self.setups):
                raise refused[0]
            yield

    def _hand_done(self) -> None:
        self.wake.poke(look=False)

    @contextlib.contextmanager
    def _signals(self) -> Iterator[None]:
        def ask(number: int, frame: object) -> None:
            if number == getattr(signal, "SIGHUP", None):
                self._asked_to_reload = True
                self._next_reload = 0.0
                self.wake.poke()
            else:
                self.stopped_by = self.stopped_by or number
                self.stop()

        names = ("SIGTERM", "SIGINT", "SIGHUP", "SIGBREAK")  # the last two where the system has them
        numbers = [getattr(signal, name) for name in names if hasattr(signal, name)]
        before = {number: signal.signal(number, ask) for number in numbers}
        try:
            yield
        finally:
            for number, handler in before.items():
                signal.signal(number, handler)
