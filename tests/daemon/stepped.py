"""A loop to be driven step by step: a clock and a wake of our own, and no sleeping."""

from __future__ import annotations

import io
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any

from tests.gate.driver import judge
from tidegate.daemon.log import Log
from tidegate.daemon.loop import Loop
from tidegate.daemon.notify import Notify
from tidegate.daemon.setup import Everything, GateSetup, LoopRules, WorkerRules
from tidegate.daemon.workers import InProcess
from tidegate.gate.settings import GatePaths, GateRules


class World:
    """A clock that moves only when the loop sleeps; `then` are things that happen at given times."""

    def __init__(self) -> None:
        self.now = 1000.0
        self.then: list[tuple[float, Callable[[], None]]] = []
        self.sleeps: list[float] = []
        self.stop: Callable[[], None] = lambda: None

    def clock(self) -> float:
        return self.now

    def at(self, time: float, action: Callable[[], None]) -> None:
        self.then.append((1000.0 + time, action))
        self.then.sort(key=lambda pair: pair[0])

    def wait(self, seconds: float | None, others: Sequence[Any]) -> bool:
        assert seconds is not None
        self.sleeps.append(seconds)
        assert len(self.sleeps) < 5000, "the loop spins"
        until = self.now + seconds
        if self.then and self.then[0][0] <= until:
            time, action = self.then.pop(0)
            self.now = max(self.now, time)
            action()
            return True
        self.now = until
        return False

    def poke(self, *, look: bool = True) -> None:
        return


def setup(base: Path, name: str = "harbour", **rules: Any) -> GateSetup:
    trees = [base / tree for tree in ("delivery", "returned", "aside", "kept")]
    paths = GatePaths(name, base / f"inbox-{name}", base / f"work-{name}", *trees, owner=name)
    return GateSetup(paths, judge, GateRules(**{"quiet": 5.0, "wait": 60.0, "stalled": 600.0, **rules}))


def loop(world: World, *setups: GateSetup, out: io.StringIO | None = None, **more: Any) -> Loop:
    made = Loop(
        setups,
        InProcess(),
        LoopRules(hands=0),
        Log(out=out or io.StringIO()),
        world,
        world.clock,
        notify=Notify({}),
        **more,
    )
    world.stop = made.stop
    return made


def everything(*setups: GateSetup, **rules: Any) -> Everything:
    return Everything(setups, LoopRules(**rules), WorkerRules())


def put(path: Path, data: bytes = b"fine") -> None:
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_bytes(data)
