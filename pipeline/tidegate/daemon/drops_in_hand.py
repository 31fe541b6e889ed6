"""The drops of a gate between inbox and target: claimed by a hand, judged by an examiner, handed over by a hand."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, field

from tidegate.errors import GateFault, TidegateError, TransientFault
from tidegate.gate import one_drop
from tidegate.gate.faults import Changed
from tidegate.gate.give_back import put_back
from tidegate.gate.grouping import SeenDrop
from tidegate.gate.handed_before import HandedBefore
from tidegate.gate.make_ticket import make_ticket
from tidegate.gate.names import same_to_some
from tidegate.gate.one_drop import Prepared
from tidegate.gate.publish import Delivered
from tidegate.gate.ticket import Ticket

from . import disk_work
from .disk_work import Work
from .gate_shared import Shared
from .hands import Hands, Turns
from .inbox_looks import InboxLooks
from .workers import Answer, Examiner, Job


@dataclass(slots=True)
class DropsInHand:
    """tell: what waits may have changed. told: called with everything that was handed over.

    claimed: at rest, tried when their pause is over. with_examiner: being judged. working: a hand moves their files;
    claiming: those of them that come from the inbox.
    """

    shared: Shared
    looks: InboxLooks
    examiner: Examiner
    hands: Hands[Work]
    turns: Turns
    tell: Callable[[], None]
    told: Callable[[tuple[Delivered, ...]], None]
    claimed: dict[str, Ticket] = field(default_factory=dict)
    with_examiner: dict[str, Prepared] = field(default_factory=dict)
    working: dict[str, Ticket] = field(default_factory=dict)
    claiming: set[str] = field(default_factory=set)
    _before: HandedBefore = field(init=False)

    def __post_init__(self) -> None:
        self._before = HandedBefore(self.shared.layout, self.shared.ledger.newest_ticket)

    def __len__(self) -> int:
        return len(self.claimed) + len(self.with_examiner) + len(self.working)

    def take(self, drop: SeenDrop) -> None:
        """Have a drop that has settled claimed."""
        shared = self.shared
        missing = self.looks.missing(drop)
        rules, wall = shared.setup.rules, shared.wall()
        try:
            taken = make_ticket(drop, shared.layout, rules, self._before, missing, wall, self._tickets())
        except GateFault as fault:
            until, more = shared.pause("/".join(drop.key), fault, shared.now)
            self.looks.next_look = min(self.looks.next_look, until)
            shared.log.fault("warning", "a drop could not be claimed", fault, gate=shared.name, drop=drop.name, **more)
            self.tell()
            return
        self.claiming.add(taken.ticket)
        self._send(taken, drop)

    def go_on(self, now: float) -> None:
        """Try again what is claimed and has paused long enough."""
        for name, taken in list(self.claimed.items()):
            if self.shared.pauses.due(name, now):
                self._send(self.claimed.pop(name), None)
                self.shared.log("debug", "goes on", gate=self.shared.name, drop=taken.drop, ticket=name)

    def times(self) -> Iterator[float]:
        """When each of the claimed is tried again, by the monotonic clock; 0 for at once."""
        paused = self.shared.pauses.all()
        return (paused[name].until if name in paused else 0.0 for name in self.claimed)

    def answered(self, answer: Answer) -> None:
        """Have handed over what a worker judged."""
        prepared = self.with_examiner.pop(answer.key[1])
        taken = prepared.ticket
        self.working[taken.ticket] = taken
        outcomes = answer.outcomes
        fault = answer.fault
        if fault:
            self.shared.log.fault("error", "a drop could not be judged", fault, gate=self.shared.name, drop=taken.drop)
        layout, wall, enter, turns = self.shared.layout, self.shared.wall, self.shared.enter, self.turns

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
        taken, log = work.ticket, self.shared.log
        self.working.pop(taken.ticket, None)
        self.claiming.discard(taken.ticket)
        if work.prepared is not None:
            self.with_examiner[taken.ticket] = work.prepared
            if work.drop is not None:
                self.shared.pauses.healed("/".join(work.drop.key))
                files = len(taken.moves)
                log("info", "claimed", gate=self.shared.name, drop=taken.drop, ticket=taken.ticket, files=files)
            self._submit(work.prepared)
        elif work.delivered:
            if work.fault:
                log.fault("error", "a drop goes aside", work.fault, gate=self.shared.name, drop=taken.drop)
            self._done(taken, work.delivered)
        elif work.given_back:
            self._given_back(work, now)
        elif work.fault is not None:
            self.claimed[taken.ticket] = taken
            self._later(taken, work.fault, now)

    def put_back(self) -> None:
        """Return to the inbox what is not yet handed over; what a newer drop has the name of stays claimed.

        The newest first: of two drops of one name the older stays, and the next start judges it before the other. The
        hands must be at rest.
        """
        name, log = self.shared.name, self.shared.log
        for prepared in list(self.with_examiner.values()):
            self.examiner.cancel((name, prepared.ticket.ticket))
            self.claimed[prepared.ticket.ticket] = prepared.ticket
        self.with_examiner.clear()
        self.claimed |= self.working
        self.working.clear()
        for _, taken in sorted(self.claimed.items(), reverse=True):
            if self.shared.layout.handing_file(taken.ticket).exists():
                log("warning", "half handed over: the next start finishes it", gate=name, ticket=taken.ticket)
                continue
            try:
                put_back(taken, self.shared.layout, self.shared.setup.rules)
                log("info", "put back into the inbox", gate=name, drop=taken.drop, ticket=taken.ticket)
            except GateFault as fault:
                log.fault("warning", "a drop stays claimed until the next start", fault, gate=name)
        self.claimed.clear()

    def _tickets(self) -> list[Ticket]:
        judged = [prepared.ticket for prepared in self.with_examiner.values()]
        return [*self.claimed.values(), *judged, *self.working.values()]

    def names(self) -> dict[str, str]:
        """What the key of each drop at rest or under way is to a person."""
        return {name: f"{taken.drop} ({name})" for name, taken in (self.claimed | self.working).items()}

    def _send(self, taken: Ticket, drop: SeenDrop | None) -> None:
        self.working[taken.ticket] = taken
        layout, rules, wall, enter = self.shared.layout, self.shared.setup.rules, self.shared.wall, self.shared.enter
        self.hands.do(lambda: disk_work.take(taken, drop, layout, rules, wall(), enter))

    def _submit(self, prepared: Prepared) -> None:
        setup, key = self.shared.setup, (self.shared.name, prepared.ticket.ticket)
        job = Job(key, setup.examine, prepared.root, prepared.context, prepared.bytes, setup.limits, prepared.largest)
        self.examiner.submit(job)

    def _given_back(self, work: Work, now: float) -> None:
        """The drop lies in the inbox again: it settles anew, is tried again later, or not before it changes."""
        shared, fault, taken = self.shared, work.fault, work.ticket
        assert fault is not None, "nothing is given back without a reason"
        shared.pauses.healed(taken.ticket)
        if isinstance(fault, Changed):
            self.looks.next_look = now
            shared.log.fault("info", "a drop goes back to settling", fault, gate=shared.name, drop=taken.drop)
            return
        more: dict[str, object] = {}
        if work.drop is not None and isinstance(fault, TransientFault):
            until, more = shared.pause("/".join(work.drop.key), fault, now)
            self.looks.next_look = min(self.looks.next_look, until)
        elif work.drop is not None:
            self.looks.refused[work.drop.key] = (work.drop.files, str(fault))
        shared.log.fault("warning", "a drop could not be claimed", fault, gate=shared.name, drop=taken.drop, **more)
        self.tell()

    def _done(self, taken: Ticket, delivered: tuple[Delivered, ...]) -> None:
        self.claimed.pop(taken.ticket, None)
        self.shared.pauses.healed(taken.ticket)
        for each in delivered:
            record = each.record
            told = {"prop": record.prop, "at": each.at, "reason": record.reason}
            self.shared.log("info", record.verdict, gate=self.shared.name, **told)
        self.told(delivered)
        self.tell()

    def _later(self, taken: Ticket, fault: TidegateError, now: float) -> None:
        """A claimed drop is tried again after a pause."""
        _, more = self.shared.pause(taken.ticket, fault, now)
        told = "tried again later"
        self.shared.log.fault("warning", told, fault, gate=self.shared.name, drop=taken.drop, **more)
        self.tell()
