"""When the inbox of a gate is looked at, and what a look finds: drops that are ready, and drops that wait."""

from __future__ import annotations

from collections import deque
from collections.abc import Callable
from dataclasses import dataclass, field

from tidegate.errors import GateFault
from tidegate.gate.faults import disk_step, shown
from tidegate.gate.grouping import SeenDrop, drops_in
from tidegate.gate.scan import NAMED_AS_PART, look, named_as_parts
from tidegate.gate.settle import Memory, Waiting, missing_textures, settle

from .gate_shared import Shared
from .wake import Watch, has_native_events

BUSY_SHARE, IDLE_SHARE = 20, 1500
"""A look is not repeated before this many times its own cost: under 5 % of a core while things move, under 0.1 % idle."""

INBOX = "the inbox"


@dataclass(slots=True)
class InboxLooks:
    """watch: None for no native events. tell: what waits may have changed.

    native: the inbox tells every change by events, so that looks may come seldom. refused: drops that cannot be claimed as
    they are, with their files and the reason. not_taken: files that have the name of an unfinished copy of ours, and that
    two looks have seen, so that none of ours is among them.
    """

    shared: Shared
    watch: Watch | None
    tell: Callable[[], None]
    ready: deque[SeenDrop] = field(default_factory=deque)
    waiting: tuple[Waiting, ...] = ()
    next_look: float = 0.0
    native: bool = False
    refused: dict[tuple[str, str], tuple[object, str]] = field(default_factory=dict)
    not_taken: tuple[str, ...] = ()
    _memory: Memory = field(init=False)
    _watched_as: tuple[int, int] | None = None
    _interval: float = field(init=False)
    _not_before: float = 0.0
    _last_seen: object = None
    _named_as_parts: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        self._interval = self.shared.rules.scan
        self.begin_anew()

    def begin_anew(self) -> None:
        """The rules or the questions are others."""
        self._memory = Memory(self.shared.setup.questions, self.shared.setup.paths.inbox)
        self.next_look = 0.0
        self._watched_as = None

    def poked(self, now: float) -> None:
        """Something may have changed in the inbox: look soon, but not more often than looking is cheap."""
        self._interval = self.shared.rules.scan
        self.next_look = min(self.next_look, max(now, self._not_before))

    def missing(self, drop: SeenDrop) -> tuple[str, ...]:
        """Textures that its meshes name and that did not come."""
        return missing_textures(drop, self._memory, self.shared.setup.rules)

    def forget(self) -> None:
        """Have the inbox watched no more."""
        if self.watch:
            self.watch.forget(self.shared.setup.paths.inbox)

    def look(self, now: float, clock: Callable[[], float]) -> None:
        shared = self.shared
        rules = shared.setup.rules
        try:
            self._follow()
            seen = look(shared.setup.paths.inbox, rules)
        except GateFault as fault:
            self.next_look, more = shared.pause(INBOX, fault, now)
            shared.log.fault("error", "the inbox cannot be looked at", fault, gate=shared.name, **more)
            self.tell()
            return
        if INBOX in shared.pauses.all():
            shared.pauses.healed(INBOX)
            shared.log("info", "the inbox can be looked at again", gate=shared.name)
        drops = drops_in(seen, rules, shared.setup.questions, self._memory.wanted)
        settled = settle(drops, self._memory, rules, now)
        self.refused = {drop.key: self.refused[drop.key] for drop in drops if drop.key in self.refused}
        self.ready.extend(drop for drop in settled.ready if self._may_try(drop, now))
        self.waiting = settled.waiting
        self._note_named_as_parts(named_as_parts(seen))
        self.tell()
        same = self._last_seen == drops
        self._last_seen = drops
        self._plan_the_next(now, clock() - now, same)

    def _note_named_as_parts(self, named: tuple[str, ...]) -> None:
        """Tell of those that the look before saw too: a copy of ours on its way back is gone by then."""
        still = tuple(path for path in named if path in self._named_as_parts)
        for path in still:
            if path not in self.not_taken:
                told = "a file is not taken"
                self.shared.log("warning", told, gate=self.shared.name, path=shown(path), why=NAMED_AS_PART)
        self._named_as_parts, self.not_taken = named, still

    def _plan_the_next(self, now: float, cost: float, same: bool) -> None:
        """cost: seconds that the look took. same: it saw what the one before saw."""
        rules = self.shared.rules
        longest = rules.longest_scan if self.native else rules.scan
        self._interval = min(self._interval * 2, longest) if same else rules.scan
        self._not_before = now + BUSY_SHARE * cost
        self.next_look = now + max(self._interval, (IDLE_SHARE if same else BUSY_SHARE) * cost)
        soonest = min((each.until for each in self.waiting if each.until is not None), default=None)
        if soonest is not None:
            self.next_look = min(self.next_look, max(soonest, self._not_before))

    def _follow(self) -> None:
        """Have the inbox watched; anew when it is another folder than before, since it went and came back."""
        if self.watch is None:
            return
        inbox, wanted = self.shared.setup.paths.inbox, self.shared.setup.native_events
        with disk_step("could not look at the inbox", inbox):
            there = inbox.stat()
        if (there.st_dev, there.st_ino) == self._watched_as:
            return
        self._watched_as = there.st_dev, there.st_ino
        self.watch.forget(inbox)
        self.native = has_native_events(inbox) if wanted is None else wanted
        if self.native and (why := self.watch.follow(inbox)):
            self.native = False
            told = "no native events, the interval has to do"
            self.shared.log("warning", told, gate=self.shared.name, inbox=inbox, why=why)

    def _may_try(self, drop: SeenDrop, now: float) -> bool:
        """A drop that cannot be claimed is tried again when it changes, or when its pause is over."""
        refused = self.refused.get(drop.key)
        if refused and refused[0] == drop.files:
            return False
        return self.shared.pauses.due("/".join(drop.key), now)
