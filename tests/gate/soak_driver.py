"""The gate as a daemon that runs until it is stopped, killed or failed; started by `zygote`."""

from __future__ import annotations

from pathlib import Path

from tests.gate.driver import judge, paths_of
from tidegate.daemon.log import Log
from tidegate.daemon.loop import Loop
from tidegate.daemon.setup import GateSetup, LoopRules
from tidegate.daemon.workers import InProcess
from tidegate.gate.outcome import DropContext, Outcome
from tidegate.gate.settings import GateRules


def judge_or_say(root: Path, context: DropContext) -> list[Outcome]:
    """As a worker does: what cannot be read is unjudged, and the gate goes on."""
    try:
        return judge(root, context)
    except OSError as error:
        names = sorted(path.relative_to(root).as_posix() for path in root.rglob("*") if path.is_file())
        return [Outcome(context.drop, "unjudged", tuple(names), reason=str(error))]


def serve(base: Path) -> None:
    rules = GateRules(quiet=0.2, wait=0.5, stalled=1.0, first_pause=0.1, longest_pause=1.0)
    # native_events off: watchdog is not there under -S, and the interval must find everything anyway.
    setup = GateSetup(paths_of(base), judge_or_say, rules, native_events=False)
    Loop([setup], InProcess(), LoopRules(scan=0.1, grace=2.0), log=Log(level="warning")).run()
