"""One gate at work: a straight pass of recover, look, settle, claim, submit; and the hand-over of what was judged.

All times come in as arguments. Nothing here sleeps.
"""

from __future__ import annotations

import contextlib
import math
from collections import deque
from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import UTC, datetime

from tidegate.errors import GateFault, PermanentFault, TidegateError, TransientFault
from tidegate.gate import claim, one_drop, recover, ticket
from tidegate.gate.faults import Changed, disk_step
from tidegate.gate.grouping import SeenDrop, drops_in
from tidegate.gate.layout import Layout
from tidegate.gate.ledger import Ledger, WaitingRow
from tidegate.gate.lock import held, holder
from tidegate.gate.make_ticket import make_ticket
from tidegate.gate.names import same_to_some
from tidegate.gate.one_drop import Prepared
from tidegate.gate.publish import Delivered
from tidegate.gate.redrop import ReturnedProps
from tidegate.gate.retry import Pauses
from tidegate.gate.scan import look
from tidegate.gate.settle import Memory, Waiting, missing_textures, settle
from tidegate.gate.ticket import Ticket

from . import disk_work
from .disk_work import Work
from .hands import Hands, Turns
from .held_up import reason_of, rows_of
from .log import Log
from .setup import GateSetup, LoopRules
from .wake import Watch, has_native_events
from .workers import Answer, Examiner, Job

BUSY_SHARE, IDLE_SHARE = 20, 1500
"""A look is not repeated before this many times its own cost: under 5 % of a core while things move, under 0.1 % idle."""


SHUT, INBOX = "the gate itself", "the inbox"


@dataclass(slots=True)
class GateAtWork:
    """told: called with everything that was handed over, for progress and tables. watch: None for no native events.

    native: the inbox tells every change by events, so that looks may come seldom.
    why_shut: None while open. elsewhere: it is shut since another process serves this gate.
    """

    setup: GateSetup
    rules: LoopRules
    examiner: Examiner
    hands: Hands[Work]
    turns: Turns
    log: Log
    wall: Callable[[], datetime] = lambda: datetime.now(UTC)
    told: Callable[[tuple[Delivered, ...]], None] = lambda delivered: None
    watch: Watch | None = None
    waiting: tuple[Waiting, ...] = ()
    next_look: float = 0.0
    layout: Layout = field(init=False)
    ledger: Ledger = field(init=False)
    pauses: Pauses = field(init=False)
    _memory: Memory = field(init=False)
    _returned: ReturnedProps = field(init=False)
    _ready: deque[SeenDrop] = field(default_factory=deque)
    _claimed: dict[str, Ticket] = field(default_factory=dict)
    _in_hand: dict[str, Prepared] = field(default_factory=dict)
    _working: dict[str, Ticket] = field(default_factory=dict)
    _claiming: set[str] = field(default_factory=set)
    _refused: dict[tuple[str, str], tuple[object, str]] = field(default_factory=dict)
    native: bool = False
    is_open: bool = False
    elsewhere: bool = False
    why_shut: GateFault | None = None
    _lock: contextlib.ExitStack = field(default_factory=contextlib.ExitStack)
    _watched_as: tuple[int, int] | None = None
    _interval: float = 0.0
    _not_before: float = 0.0
    _last_seen: object = None
    _told_waiting: object = None
    _now: float = 0.0

    def __post_init__(self) -> None:
        self.layout = Layout(self.setup.paths)
        self.ledger = Ledger(self.layout.ledger)
        self.reconfigure(self.setup)
        self._returned = ReturnedProps(self.setup.paths.returned)
        self._interval = self.rules.scan

    @property
    def name(self) -> str:
        return self.setup.paths.name

    @property
    def busy(self) -> bool:
        """Whether drops are with the examiner or on their way to or from it."""
        return bool(self._in_hand or self._working)

    @property
    def in_hand(self) -> int:
        """Drops that have settled and are not handed over."""
        return self._held + len(self._ready)

    @property
    def on_disk(self) -> bool:
        """Whether a hand moves files of this gate."""
        return bool(self._working)

    def in_progress(self, now: float, limit: float) -> bool:
        """Whether something here will move by time `limit` without anybody's doing."""
        paused = self.pauses.all()
        if not self.is_open:
            return not self.elsewhere and self.next_look <= limit
        return (
            bool(self._in_hand or self._ready or self._working)
            or self.next_look <= now
            or any(name not in paused or paused[name].until <= limit for name in self._claimed)
            or any(each.until is not None and each.until <= limit for each in self.waiting)
        )

    def reconfigure(self, setup: GateSetup) -> None:
        """Go on with other rules, questions or judging; the paths stay."""
        assert setup.paths == self.layout.paths, "a gate whose folders change is another gate"
        self.setup = setup
        self.pauses = Pauses(setup.rules)
        self._memory = Memory(setup.questions, setup.paths.inbox)
        self.next_look = 0.0
        self._watched_as = None

    def hurry(self) -> None:
        """Try at once what pauses: somebody says that it was mended."""
        self.pauses = Pauses(self.setup.rules)
        self.next_look = 0.0

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
            self._claimed.clear()  # read anew when it opens; without the lock they are not ours
            self._stays_shut(fault, now, ours)
            self._lock.close()
            return
        self.pauses.healed(SHUT)
        self.is_open, self.elsewhere, self.why_shut = True, False, None
        self.next_look = now
        self.log("info", "the gate is open", gate=self.name, inbox=self.setup.paths.inbox)
        self._tell_waiting()

    def _stays_shut(self, fault: GateFault, now: float, ours: bool) -> None:
        self.why_shut = fault
        self.elsewhere = not ours and holder(self.layout.lock) is not None
        pause = self.pauses.failed(SHUT, reason_of(fault), fault.help, now)
        # The other process may end at any moment; what is broken takes longer and longer to mend.
        self.next_look = now + self.rules.scan if self.elsewhere else pause.until
        told = pause.tries & (pause.tries - 1) == 0  # the first, second, fourth, eighth time, so that it stays readable
        more: dict[str, object] = {"tries": pause.tries, "pause": round(self.next_look - now, 3)}
        self.log.fault("error" if told else "debug", "a gate stays shut", fault, gate=self.name, **more)
        if ours:  # else its ledger is written by another
            self._tell_waiting()

    def _begin(self) -> None:
        self.layout.prepare()
        steps = recover.plan(self.layout)
        for result in recover.carry_out(steps, self.layout, self.setup.rules, self.wall(), self._enter):
            step = result.step
            if result.fault:
                self.log.fault(
                    "error", "recovery could not finish a step", result.fault, gate=self.name, action=step.action
                )
            else:
                self.log("info", "recovered", gate=self.name, action=step.action, ticket=step.ticket, why=step.why)
            self.told(result.delivered)
        with disk_step("could not list the tickets", self.layout.tickets):
            names = sorted(path for path in self.layout.tickets.iterdir() if path.suffix == ".json")
        for path in names:
            try:
                self._claimed[path.stem] = ticket.read(path)
            except PermanentFault as fault:
                self.log.fault("error", "a ticket needs a person", fault, gate=self.name)

    def poked(self, now: float) -> None:
        """Something may have changed in the inbox: look soon, but not more often than looking is cheap."""
        if not self.is_open:
            return
        self._interval = self.rules.scan
        self.next_look = min(self.next_look, max(now, self._not_before))

    def step(self, now: float, clock: Callable[[], float]) -> None:
        """One pass at monotonic time `now`."""
        self._now = now
        if not self.is_open:
            if now >= self.next_look:
                self.open(now)
            if not self.is_open:
                return
        if now >= self.next_look and not self._ready and not self._claiming:
            self._look(now, clock)
        while self._ready and self._held < self.rules.in_hand:
            self._claim(self._ready.popleft())
        for name, taken in list(self._claimed.items()):
            if self.pauses.due(name, now):
                self._send(self._claimed.pop(name), None)
                self.log("debug", "goes on", gate=self.name, drop=taken.drop, ticket=name)

    def answered(self, answer: Answer) -> None:
        """Have handed over what a worker judged."""
        prepared = self._in_hand.pop(answer.key[1])
        taken = prepared.ticket
        self._working[taken.ticket] = taken
        outcomes = answer.outcomes
        fault = answer.fault
        if fault:
            self.log.fault("error", "a drop could not be judged", fault, gate=self.name, drop=taken.drop)
        layout, wall, enter, turns = self.layout, self.wall, self._enter, self.turns

        def work() -> Work:
            judged = outcomes
            if fault:
                judged = one_drop.unjudged(prepared, fault)
            delivery = str(layout.paths.delivery)
            names = {same_to_some("/".join((delivery, *each.place, each.prop))) for each in judged}
            with turns.on(frozenset(names)):
                return disk_work.finish(prepared, judged, layout, wall(), enter)

        self.hands.do(work)

    def did(self, work: Work, now: float) -> None:
        """Go on from a piece of disk work that is done."""
        self._now = now
        taken = work.ticket
        self._working.pop(taken.ticket, None)
        self._claiming.discard(taken.ticket)
        if work.prepared is not None:
            self._in_hand[taken.ticket] = work.prepared
            if work.drop is not None:
                self.pauses.healed("/".join(work.drop.key))
                self.log(
                    "info", "claimed", gate=self.name, drop=taken.drop, ticket=taken.ticket, files=len(taken.moves)
                )
            prepared, key = work.prepared, (self.name, taken.ticket)
            setup = self.setup
            job = Job(
                key, setup.examine, prepared.root, prepared.context, prepared.bytes, setup.limits, prepared.largest
            )
            self.examiner.submit(job)
        elif work.delivered:
            if work.fault:
                self.log.fault("error", "a drop goes aside", work.fault, gate=self.name, drop=taken.drop)
            self._done(taken, work.delivered)
        elif work.given_back:
            self._given_back(work, now)
        elif work.fault is not None:
            self._claimed[taken.ticket] = taken
            self._later(taken, work.fault, now)

    @property
    def _held(self) -> int:
        return len(self._claimed) + len(self._in_hand) + len(self._working)

    def next_due(self) -> float:
        """Monotonic time of the next thing to do without being woken; infinity when all waits for an examiner."""
        paused = self.pauses.all()
        times = [paused[name].until if name in paused else 0.0 for name in self._claimed]
        if self._ready and self._held < self.rules.in_hand:
            times.append(0.0)
        elif not self._ready and not self._claiming:
            times.append(self.next_look)
        return min(times, default=math.inf)

    def stop(self) -> None:
        """Return what is in hand and not yet handed over to the inbox, and let the lock go. The hands must be at rest."""
        for prepared in list(self._in_hand.values()):
            self.examiner.cancel((self.name, prepared.ticket.ticket))
            self._claimed[prepared.ticket.ticket] = prepared.ticket
        self._in_hand.clear()
        self._claimed |= self._working
        self._working.clear()
        for taken in self._claimed.values():
            if self.layout.handing_file(taken.ticket).exists():
                self.log("warning", "half handed over: the next start finishes it", gate=self.name, ticket=taken.ticket)
                continue
            try:
                claim.give_back(taken, self.layout)
                self.log("info", "put back into the inbox", gate=self.name, drop=taken.drop, ticket=taken.ticket)
            except GateFault as fault:
                self.log.fault("warning", "a drop stays claimed until the next start", fault, gate=self.name)
        self._claimed.clear()
        if self.watch:
            self.watch.forget(self.setup.paths.inbox)
        self.ledger.close()
        self.is_open = False
        self._lock.close()

    def _look(self, now: float, clock: Callable[[], float]) -> None:
        try:
            self._follow()
            seen = look(self.setup.paths.inbox, self.setup.rules)
        except GateFault as fault:
            pause = self.pauses.failed(INBOX, reason_of(fault), fault.help, now)
            self.next_look = pause.until
            more: dict[str, object] = {"tries": pause.tries, "pause": round(pause.until - now, 3)}
            self.log.fault("error", "the inbox cannot be looked at", fault, gate=self.name, **more)
            self._tell_waiting()
            return
        if INBOX in self.pauses.all():
            self.pauses.healed(INBOX)
            self.log("info", "the inbox can be looked at again", gate=self.name)
        drops = drops_in(seen, self.setup.rules, self.setup.questions, self._memory.wanted)
        settled = settle(drops, self._memory, self.setup.rules, now)
        self._refused = {drop.key: self._refused[drop.key] for drop in drops if drop.key in self._refused}
        self._ready.extend(drop for drop in settled.ready if self._may_try(drop, now))
        self.waiting = settled.waiting
        self._tell_waiting()
        same = self._last_seen == drops
        self._last_seen = drops
        longest = self.rules.longest_scan if self.native else self.rules.scan
        self._interval = min(self._interval * 2, longest) if same else self.rules.scan
        cost = clock() - now
        self._not_before = now + BUSY_SHARE * cost
        self.next_look = now + max(self._interval, (IDLE_SHARE if same else BUSY_SHARE) * cost)
        soonest = min((each.until for each in self.waiting if each.until is not None), default=None)
        if soonest is not None:
            self.next_look = min(self.next_look, max(soonest, self._not_before))

    def _follow(self) -> None:
        """Have the inbox watched; anew when it is another folder than before, since it went and came back."""
        if self.watch is None:
            return
        inbox, wanted = self.setup.paths.inbox, self.setup.native_events
        with disk_step("could not look at the inbox", inbox):
            there = inbox.stat()
        if (there.st_dev, there.st_ino) == self._watched_as:
            return
        self._watched_as = there.st_dev, there.st_ino
        self.watch.forget(inbox)
        self.native = has_native_events(inbox) if wanted is None else wanted
        if self.native and (why := self.watch.follow(inbox)):
            self.native = False
            self.log("warning", "no native events, the interval has to do", gate=self.name, inbox=inbox, why=why)

    def _may_try(self, drop: SeenDrop, now: float) -> bool:
        """A drop that cannot be claimed is tried again when it changes, or when its pause is over."""
        refused = self._refused.get(drop.key)
        if refused and refused[0] == drop.files:
            return False
        return self.pauses.due("/".join(drop.key), now)

    def _claim(self, drop: SeenDrop) -> None:
        missing = missing_textures(drop, self._memory, self.setup.rules)
        taken = make_ticket(drop, self.layout, self.setup.rules, self._returned, missing, self.wall())
        self._claiming.add(taken.ticket)
        self._send(taken, drop)

    def _send(self, taken: Ticket, drop: SeenDrop | None) -> None:
        self._working[taken.ticket] = taken
        layout, rules, wall, enter = self.layout, self.setup.rules, self.wall, self._enter
        self.hands.do(lambda: disk_work.take(taken, drop, layout, rules, wall(), enter))

    def _given_back(self, work: Work, now: float) -> None:
        """The drop lies in the inbox again: it settles anew, is tried again later, or not before it changes."""
        fault, taken = work.fault, work.ticket
        assert fault is not None, "nothing is given back without a reason"
        self.pauses.healed(taken.ticket)
        if isinstance(fault, Changed):
            self.next_look = now
            self.log.fault("info", "a drop goes back to settling", fault, gate=self.name, drop=taken.drop)
            return
        more: dict[str, object] = {}
        if work.drop is not None and isinstance(fault, TransientFault):
            pause = self.pauses.failed("/".join(work.drop.key), reason_of(fault), fault.help, now)
            self.next_look = min(self.next_look, pause.until)
            more = {"tries": pause.tries, "pause": round(pause.until - now, 3)}
        elif work.drop is not None:
            self._refused[work.drop.key] = (work.drop.files, str(fault))
        self.log.fault("warning", "a drop could not be claimed", fault, gate=self.name, drop=taken.drop, **more)
        self._tell_waiting()

    def _done(self, taken: Ticket, delivered: tuple[Delivered, ...]) -> None:
        self._claimed.pop(taken.ticket, None)
        self.pauses.healed(taken.ticket)
        for each in delivered:
            self.log(
                "info",
                each.record.verdict,
                gate=self.name,
                prop=each.record.prop,
                at=each.at,
                reason=each.record.reason,
            )
        self.told(delivered)
        self._tell_waiting()

    def _later(self, taken: Ticket, fault: TidegateError, now: float) -> None:
        """A claimed drop is tried again after a pause."""
        pause = self.pauses.failed(taken.ticket, reason_of(fault), fault.help, now)
        more: dict[str, object] = {"tries": pause.tries, "pause": round(pause.until - now, 3)}
        self.log.fault("warning", "tried again later", fault, gate=self.name, drop=taken.drop, **more)
        self._tell_waiting()

    def _enter(self, delivered: tuple[Delivered, ...]) -> None:
        """Ledger rows; the ledger never holds a drop up."""
        try:
            self.ledger.enter(delivered)
        except TransientFault as fault:
            self.log.fault("error", "the ledger was not written", fault, gate=self.name)

    def held_up(self) -> list[WaitingRow]:
        """Everything that does not move, and why: for `status`."""
        names = {name: f"{taken.drop} ({name})" for name, taken in (self._claimed | self._working).items()}
        names |= {key: key.partition("/")[2] for key in self.pauses.all() if "/" in key}  # kind and name of a drop
        return rows_of(self.waiting, self._refused, self.pauses.all(), names, self._now, self.wall())

    def _tell_waiting(self) -> None:
        """Write what is held up to the ledger, only when it changed."""
        rows = self.held_up()
        # Times of day would differ by a hair at every look; monotonic ones stand until the drop changes.
        told = ([(row.key, row.reason, row.tries) for row in rows], [each.until for each in self.waiting])
        if told == (self._told_waiting or ([], [])):
            return
        self._told_waiting = told
        try:
            self.ledger.waiting(rows)
        except TransientFault as fault:
            self.log.fault("error", "the ledger was not written", fault, gate=self.name)
