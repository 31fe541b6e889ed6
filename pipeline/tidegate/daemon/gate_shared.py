"""What the parts of one gate at work share."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import datetime

from tidegate.errors import TidegateError, TransientFault
from tidegate.gate.layout import Layout
from tidegate.gate.ledger import Ledger
from tidegate.gate.publish import Delivered
from tidegate.gate.retry import Pauses

from .held_up import reason_of
from .log import Log
from .setup import GateSetup, LoopRules


@dataclass(slots=True)
class Shared:
    """setup, rules: may become others at any time; the paths stay. now: monotonic time of the last pass."""

    setup: GateSetup
    rules: LoopRules
    log: Log
    wall: Callable[[], datetime]
    now: float = 0.0
    layout: Layout = field(init=False)
    ledger: Ledger = field(init=False)
    pauses: Pauses = field(init=False)

    def __post_init__(self) -> None:
        self.layout = Layout(self.setup.paths)
        self.ledger = Ledger(self.layout.ledger)
        self.pauses = Pauses(self.setup.rules)

    @property
    def name(self) -> str:
        return self.setup.paths.name

    def enter(self, delivered: tuple[Delivered, ...]) -> None:
        """Ledger rows; the ledger never holds a drop up."""
        try:
            self.ledger.enter(delivered)
        except TransientFault as fault:
            self.log.fault("error", "the ledger was not written", fault, gate=self.name)

    def pause(self, key: str, fault: TidegateError, now: float) -> tuple[float, dict[str, object]]:
        """It failed once more: until when it pauses, and what a log line says about that."""
        pause = self.pauses.failed(key, reason_of(fault), fault.help, now)
        return pause.until, {"tries": pause.tries, "pause": round(pause.until - now, 3)}
