"""Which gates are served. They come, go and move with the configuration; each has a lock and a life of its own."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field

from tidegate.errors import GateFault
from tidegate.gate.left_claims import LeftClaims, left_claims
from tidegate.gate.settings import GatePaths

from .log import Log
from .one_gate import GateAtWork
from .setup import GateSetup


@dataclass(slots=True)
class Gates:
    """make: a gate at work, not yet open.

    serving: those that take drops, or try to open. leaving: with the monotonic time when their grace is over.
    """

    make: Callable[[GateSetup], GateAtWork]
    log: Log
    serving: list[GateAtWork] = field(default_factory=list)
    leaving: list[tuple[GateAtWork, float]] = field(default_factory=list)
    _coming: list[GateSetup] = field(default_factory=list)
    _told: set[LeftClaims] = field(default_factory=set)

    def __iter__(self) -> Iterator[GateAtWork]:
        """All that may have something in hand."""
        yield from self.serving
        yield from (gate for gate, _ in self.leaving)

    def become(self, setups: Sequence[GateSetup], now: float, grace: float) -> None:
        """Serve these from now on: known ones go on with what is new about them, others leave, and new ones come."""
        coming = {setup.paths.name: setup for setup in setups}
        for gate in list(self.serving):
            setup = coming.get(gate.name)
            if setup is not None and setup.paths == gate.layout.paths:
                gate.reconfigure(coming.pop(gate.name))
                continue
            self.serving.remove(gate)
            self.leaving.append((gate, now + grace))
            why = "its folders or its owner are others now" if setup else "it is no longer in the configuration"
            self.log("warning", "a gate closes", gate=gate.name, why=why, grace=grace)
        self._coming = list(coming.values())
        self.turn_over(now)
        self._tell_left_claims()

    def turn_over(self, now: float) -> None:
        """Let go of those that are done, then open those that nothing stands in the way of any more."""
        for gate, end in list(self.leaving):
            if not gate.busy or (now >= end and not gate.on_disk):
                gate.stop()
                self.leaving.remove((gate, end))
                self.log("info", "the gate is closed", gate=gate.name)
                self._tell_left_claims()
        for setup in list(self._coming):
            if not any(in_the_way(gate.layout.paths, setup.paths) for gate, _ in self.leaving):
                self._coming.remove(setup)
                gate = self.make(setup)
                self.serving.append(gate)
                gate.open(now)

    def _tell_left_claims(self) -> None:
        """Say so when drops are claimed where no gate goes on with them: once for each such folder."""
        served = {gate.layout.paths.work for gate in self} | {setup.paths.work for setup in self._coming}
        for delivery in dict.fromkeys(gate.layout.paths.delivery for gate in self.serving):
            try:
                found = left_claims(delivery, served)
            except GateFault as fault:
                self.log.fault("warning", "claims that no gate serves cannot be looked for", fault)
                continue
            for each in found:
                if each not in self._told:
                    told = "claims that no gate serves"
                    self.log("error", told, gate=each.gate, work=each.work, why=each.what, help=each.heals)
            self._told |= set(found)

    def next_due(self, now: float) -> list[float]:
        """When to wake next: for each gate, and for each grace that still runs."""
        return [gate.next_due() for gate in self.serving] + [end for _, end in self.leaving if end > now]

    def close(self) -> None:
        """Put back what is in hand, gate by gate. The hands must be at rest."""
        for gate in self:
            gate.stop()
        self.serving, self.leaving, self._coming = [], [], []


def in_the_way(old: GatePaths, new: GatePaths) -> bool:
    """Whether the new gate has to wait for the old one: same name, or inbox or work folder in the other's folders."""
    return old.name == new.name or _meet(old, new) or _meet(new, old)


def _meet(one: GatePaths, two: GatePaths) -> bool:
    folders = (two.inbox, two.work, *two.trees)
    return any(
        own.is_relative_to(folder) or folder.is_relative_to(own) for own in (one.inbox, one.work) for folder in folders
    )
