"""The gate as a daemon that runs until it is stopped, killed or failed; started by `zygote`."""

from __future__ import annotations

from pathlib import Path

from tests.gate.driver import judge, paths_of
from tidegate.daemon.log import Log
from tidegate.daemon.loop import Loop
from tidegate.daemon.setup import GateSetup, LoopRules
from tidegate.daemon.workers import InProcess
from tidegate.gate.settings import GateRules


def serve(base: Path) -> None:
    rules = GateRules(quiet=0.2, wait=0.5, stalled=1.0, first_pause=0.1, longest_pause=1.0)
    # native_events off: watchdog is not there under -S, and the interval must find everything anyway.
    setup = GateSetup(paths_of(base), judge, rules, native_events=False)
    Loop([setup], InProcess(), LoopRules(scan=0.1, grace=2.0), log=Log(level="warning")).run()
