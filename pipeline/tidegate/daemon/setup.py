"""What a gate is made of, mapped by the caller from its configuration."""

from __future__ import annotations

from dataclasses import dataclass, field

from tidegate.gate.outcome import Examine
from tidegate.gate.settings import GatePaths, GateRules, Questions


@dataclass(frozen=True, slots=True)
class DropLimits:
    """What examining one drop may cost. memory: bytes of address space, 0 for any. file_bytes: of its largest file."""

    memory: int = 4 << 30
    seconds: float = 600.0
    file_bytes: int = 16 << 30

    def __str__(self) -> str:
        """As reports state them."""
        memory = f"{self.memory >> 20} MiB" if self.memory else "any amount"
        return f"at most {memory} of memory, {self.seconds:g} seconds, and {_size(self.file_bytes)} a file"


def _size(count: int) -> str:
    return f"{count >> 20} MiB" if count >= 1 << 20 else f"{count} bytes"


@dataclass(frozen=True, slots=True)
class GateSetup:
    """examine: judges a claimed folder in a worker process, so it must pickle: a module's function, or an instance of a
    module's class with `__call__`. native_events: None decides by the inbox's file system. limits: for each drop.
    """

    paths: GatePaths
    examine: Examine
    rules: GateRules = field(default_factory=GateRules)
    questions: Questions = field(default_factory=Questions)
    native_events: bool | None = None
    limits: DropLimits = field(default_factory=DropLimits)


@dataclass(frozen=True, slots=True)
class LoopRules:
    """Times in seconds.

    scan: full look at each inbox at least this often; it grows up to `longest_scan` while nothing changes and native
    events are on. grace: how long a drop in hand may take to finish once told to stop. in_hand: drops claimed at a time.
    hands: threads that do the disk work of all gates, 0 for none but the loop's own.
    """

    scan: float = 10.0
    longest_scan: float = 120.0
    grace: float = 20.0
    in_hand: int = 16
    hands: int = 4


@dataclass(frozen=True, slots=True)
class WorkerRules:
    """count: processes, at least 2, so that a small drop never waits behind a huge one.

    huge: from how many bytes a drop takes the slow lane.
    jobs: after how many drops a process is replaced, so that what leaks stays small.
    """

    count: int = 2
    huge: int = 64 << 20
    jobs: int = 500


@dataclass(frozen=True, slots=True)
class Everything:
    """All that a configuration says about a daemon."""

    gates: tuple[GateSetup, ...]
    rules: LoopRules
    workers: WorkerRules
