"""One gate at work: open or shut, and a straight pass of look, claim, submit; and the hand-over of what was judged.

All times come in as arguments. Nothing here sleeps.
"""

from __future__ import annotations

import contextlib
import math
from collections.abc import Callable
from datetime import UTC, datetime

from tidegate.errors import GateFault, PermanentFault, TransientFault
from tidegate.gate import recover, ticket
from tidegate.gate.faults import disk_step, shown
from tidegate.gate.layout import Layout
from tidegate.gate.ledger import WaitingRow
from tidegate.gate.left_claims import keep_note
from tidegate.gate.lock import held, holder
from tidegate.gate.publish import Delivered
from tidegate.gate.retry import Pauses
from tidegate.gate.settle import Waiting

from .disk_work import Work
from .drops_in_hand import DropsInHand
from .gate_shared import Shared
from .hands import Hands, Turns
from .held_up import rows_of
from .inbox_looks import InboxLooks
from .log import Log
from .setup import GateSetup, LoopRules
from .wake import Watch
from .workers import Answer, Examiner

SHUT = "the gate itself"


class GateAtWork:
    """told: called with everything that was handed over, for progress and tables. watch: None for no native events.

    why_shut: None while open. elsewhere: it is shut since another process serves this gate.
    """

    def __init__(
        self,
        setup: GateSetup,
        rules: LoopRules,
        examiner: Examiner,
        hands: Hands[Work],
        turns: Turns,
        log: Log,
        wall: Callable[[], datetime] = lambda: datetime.now(UTC),
        told: Callable[[tuple[Delivered, ...]], None] = lambda delivered: None,
        watch: Watch | None = None,
    ) -> None:
        self.shared = Shared(setup, rules, log, wall)
        self.looks = InboxLooks(self.shared, watch, self._tell_waiting)
        self.drops = DropsInHand(self.shared, self.looks, examiner, hands, turns, self._tell_waiting, told)
        self.is_open = False
        self.elsewhere = False
        self.why_shut: GateFault | None = None
        self._told = told
        self._lock = contextlib.ExitStack()
        self._told_waiting: object = None

    @property
    def name(self) -> str:
        return self.shared.name

    @property
    def setup(self) -> GateSetup:
        return self.shared.setup

    @property
    def layout(self) -> Layout:
        return self.shared.layout

    @property
    def waiting(self) -> tuple[Waiting, ...]:
        return self.looks.waiting

    @property
    def busy(self) -> bool:
        """Whether drops are with the examiner or on their way to or from it."""
        return bool(self.drops.with_examiner or self.drops.working)

    @property
    def in_hand(self) -> int:
        """Drops that have settled and are not handed over."""
        return len(self.drops) + len(self.looks.ready)

    @property
    def on_disk(self) -> bool:
        """Whether a hand moves files of this gate."""
        return bool(self.drops.working)

    def in_progress(self, now: float, limit: float) -> bool:
        """Whether something here will move by time `limit` without anybody's doing."""
        if not self.is_open:
            return not self.elsewhere and self.looks.next_look <= limit
        return (
            bool(self.drops.with_examiner or self.looks.ready or self.drops.working)
            or self.looks.next_look <= now
            or any(time <= limit for time in self.drops.times())
            or any(each.until is not None and each.until <= limit for each in self.waiting)
        )

    def reconfigure(self, setup: GateSetup) -> None:
        """Go on with other rules, questions or judging; the paths stay."""
        assert setup.paths == self.layout.paths, "a gate whose folders change is another gate"
        self.shared.setup = setup
        self.shared.pauses = Pauses(setup.rules)
        self.looks.begin_anew()

    def hurry(self) -> None:
        """Try at once what pauses: somebody says that it was mended."""
        self.shared.pauses = Pauses(self.setup.rules)
        self.looks.next_look = 0.0

    def open(self, now: float) -> None:
        """Take the gate's lock, make its folders and mend what a crash left.

        A gate that another process serves, or whose folders cannot be reached, stays shut and is tried again; the
        others go on.
        """
        ours = False
        try:
            self._lock.enter_context(held(self.layout.lock))
            ours = True
            self._begin()
        except GateFault as fault:
            self.drops.claimed.clear()  # read anew when it opens; without the lock they are not ours
            self._stays_shut(fault, now, ours)
            self._lock.close()
            return
        self.shared.pauses.healed(SHUT)
        self.is_open, self.elsewhere, self.why_shut = True, False, None
        self.looks.next_look = now
        self.shared.log("info", "the gate is open", gate=self.name, inbox=self.setup.paths.inbox)
        self._tell_waiting()

    def _stays_shut(self, fault: GateFault, now: float, ours: bool) -> None:
        self.why_shut = fault
        self.elsewhere = not ours and holder(self.layout.lock) is not None
        until, more = self.shared.pause(SHUT, fault, now)
        if self.elsewhere:
            # The other process may end at any moment; what is broken takes longer and longer to mend.
            until = now + self.shared.rules.scan
            more["pause"] = round(until - now, 3)
        self.looks.next_look = until
        tries = self.shared.pauses.all()[SHUT].tries
        told = tries & (tries - 1) == 0  # the first, second, fourth, eighth time, so that it stays readable
        self.shared.log.fault("error" if told else "debug", "a gate stays shut", fault, gate=self.name, **more)
        if ours:  # else its ledger is written by another
            self._tell_waiting()

    def _begin(self) -> None:
        log = self.shared.log
        self.layout.prepare()
        try:
            keep_note(self.layout)
        except GateFault as fault:  # no drop has to wait for it
            log.fault("warning", "the work folder was not noted in the delivery tree", fault, gate=self.name)
        steps = recover.plan(self.layout)
        for result in recover.carry_out(steps, self.layout, self.setup.rules, self.shared.wall(), self.shared.enter):
            step = result.step
            if result.fault:
                log.fault("error", "recovery could not finish a step", result.fault, gate=self.name, action=step.action)
            elif step.action == recover.LOOK:
                log(
                    "warning", "needs a person", gate=self.name, path=shown(step.path), ticket=step.ticket, why=step.why
                )
            else:
                log("info", "recovered", gate=self.name, action=step.action, ticket=step.ticket, why=step.why)
            self._told(result.delivered)
        with disk_step("could not list the tickets", self.layout.tickets):
            names = sorted(path for path in self.layout.tickets.iterdir() if path.suffix == ".json")
        for path in names:
            try:
                self.drops.claimed[path.stem] = ticket.read(path)
            except PermanentFault as fault:
                log.fault("error", "a ticket needs a person", fault, gate=self.name)

    def poked(self, now: float) -> None:
        """Something may have changed in the inbox."""
        if self.is_open:
            self.looks.poked(now)

    def step(self, now: float, clock: Callable[[], float]) -> None:
        """One pass at monotonic time `now`."""
        self.shared.now = now
        if not self.is_open:
            if now >= self.looks.next_look:
                self.open(now)
            if not self.is_open:
                return
        if now >= self.looks.next_look and not self.looks.ready and not self.drops.claiming:
            self.looks.look(now, clock)
        while self.looks.ready and self._has_room:
            self.drops.take(self.looks.ready.popleft())
        self.drops.go_on(now)

    def answered(self, answer: Answer) -> None:
        """Have handed over what a worker judged."""
        self.drops.answered(answer)

    def did(self, work: Work, now: float) -> None:
        """Go on from a piece of disk work that is done."""
        self.shared.now = now
        self.drops.did(work, now)

    @property
    def _has_room(self) -> bool:
        return len(self.drops) < self.shared.rules.in_hand

    def next_due(self) -> float:
        """Monotonic time of the next thing to do without being woken; infinity when all waits for an examiner."""
        times = list(self.drops.times())
        if self.looks.ready and self._has_room:
            times.append(0.0)
        elif not self.looks.ready and not self.drops.claiming:
            times.append(self.looks.next_look)
        return min(times, default=math.inf)

    def stop(self) -> None:
        """Return what is in hand and not yet handed over to the inbox, and let the lock go. The hands must be at rest."""
        self.drops.put_back()
        self.looks.forget()
        self.shared.ledger.close()
        self.is_open = False
        self._lock.close()

    def held_up(self) -> list[WaitingRow]:
        """Everything that does not move, and why: for `status`."""
        shared = self.shared
        paused = shared.pauses.all()
        names = self.drops.names() | {key: key.partition("/")[2] for key in paused if "/" in key}  # kind/name of a drop
        looks = self.looks
        return rows_of(looks.waiting, looks.refused, looks.not_taken, paused, names, shared.now, shared.wall())

    def _tell_waiting(self) -> None:
        """Write what is held up to the ledger, only when it changed."""
        rows = self.held_up()
        # Times of day would differ by a hair at every look; monotonic ones stand until the drop changes.
        told = ([(row.key, row.reason, row.tries) for row in rows], [each.until for each in self.waiting])
        if told == (self._told_waiting or ([], [])):
            return
        self._told_waiting = told
        try:
            self.shared.ledger.waiting(rows)
        except TransientFault as fault:
            self.shared.log.fault("error", "the ledger was not written", fault, gate=self.name)
