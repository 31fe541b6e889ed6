"""A gate in a temporary folder, stepped by hand."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from datetime import UTC, datetime
from pathlib import Path

from tests.gate.driver import judge, paths_of
from tidegate.gate import claim, one_drop
from tidegate.gate.grouping import SeenDrop, drops_in
from tidegate.gate.handed_before import HandedBefore
from tidegate.gate.layout import Layout
from tidegate.gate.make_ticket import make_ticket
from tidegate.gate.outcome import Examine, Outcome
from tidegate.gate.publish import Delivered
from tidegate.gate.scan import look
from tidegate.gate.settings import GatePaths, GateRules, Questions
from tidegate.gate.ticket import Ticket

NOW = datetime(2026, 11, 25, 12, 0, 0, tzinfo=UTC)


@dataclass
class Bench:
    base: Path
    name: str = "harbour"
    owner: str = "slipway"
    rules: GateRules = field(default_factory=lambda: GateRules(quiet=0.0))
    missing: Sequence[str] = ()
    before: HandedBefore = field(init=False)

    def __post_init__(self) -> None:
        self.layout.prepare()
        self.before = HandedBefore(self.layout)

    @property
    def paths(self) -> GatePaths:
        paths = replace(paths_of(self.base), name=self.name, owner=self.owner)
        if self.name == "harbour":
            return paths
        return replace(paths, inbox=self.base / f"inbox-{self.name}", work=self.base / f"work-{self.name}")

    @property
    def layout(self) -> Layout:
        return Layout(self.paths)

    def put(self, path: str, data: bytes = b"fine") -> Path:
        target = self.paths.inbox / path
        target.parent.mkdir(parents=True, exist_ok=True)
        target.write_bytes(data)
        return target

    def drops(self) -> tuple[SeenDrop, ...]:
        return drops_in(look(self.paths.inbox, self.rules), self.rules, Questions(), lambda file: ())

    def ticket(self, in_hand: Sequence[Ticket] = (), now: datetime = NOW) -> Ticket:
        """A ticket for the only drop in the inbox."""
        (drop,) = self.drops()
        return make_ticket(drop, self.layout, self.rules, self.before, self.missing, now, in_hand)

    def claim(self, in_hand: Sequence[Ticket] = (), now: datetime = NOW) -> Ticket:
        taken = self.ticket(in_hand, now)
        claim.claim(taken, self.layout, self.rules)
        return taken

    def through(self, examine: Examine | Sequence[Outcome] = judge, now: datetime = NOW) -> tuple[Delivered, ...]:
        """The only drop, from the inbox to its place."""
        prepared = one_drop.prepare(self.claim(now=now), self.layout, self.rules)
        outcomes = examine(prepared.root, prepared.context) if callable(examine) else examine
        return one_drop.finish(prepared, outcomes, self.layout, NOW, lambda delivered: None)

    def files(self, top: str = "") -> dict[str, bytes]:
        """Files under a folder of the base that are not the gate's own, by relative path."""
        root = self.base / top
        return {
            path.relative_to(root).as_posix(): path.read_bytes()
            for path in sorted(root.rglob("*"))
            if path.is_file() and not path.is_relative_to(self.paths.work)
        }

    def claimed(self) -> dict[str, bytes]:
        """Files under the claims, by their path in the claim."""
        top = self.layout.claimed
        return {
            p.relative_to(top).as_posix().split("/", 1)[1]: p.read_bytes()
            for p in sorted(top.rglob("*"))
            if p.is_file()
        }
