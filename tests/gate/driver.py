"""The gate alone, as a process to be killed: `python -m tests.gate.driver BASE` drains BASE/inbox once.

Judges by content, so that nothing but the gate is needed: a file that holds `wrong` sends its prop back, `blind` makes it
unjudged. Each `.obj` is a prop and takes the files whose names begin with its stem; `shared_*` belongs to all of them.
BASE/paths.json may name other places for the gate's folders.
"""

from __future__ import annotations

import contextlib
import json
import os
import sys
from pathlib import Path

from tidegate.daemon.log import Log
from tidegate.daemon.loop import Drained, Loop
from tidegate.daemon.setup import GateSetup, LoopRules
from tidegate.daemon.workers import InProcess
from tidegate.gate.outcome import DropContext, Outcome
from tidegate.gate.settings import GatePaths, GateRules

TREES = ("inbox", "work", "delivery", "returned", "aside", "kept")


def paths_of(base: Path) -> GatePaths:
    told = json.loads(content(base / "paths.json")) if (base / "paths.json").exists() else {}
    return GatePaths("harbour", *(Path(told.get(name, base / name)) for name in TREES), owner="slipway")


def judge(root: Path, context: DropContext) -> list[Outcome]:
    ours = (".tidegate.", "manifest-sha256.txt")
    names = sorted(p.relative_to(root).as_posix() for p in root.rglob("*") if p.is_file())
    names = [name for name in names if not any(mark in name for mark in ours)]
    stems = [Path(name).stem for name in names if name.endswith(".obj")] or [context.drop]
    outcomes = []
    for stem in stems:
        mine = [name for name in names if len(stems) == 1 or Path(name).name.startswith((stem, "shared_"))]
        text = b"".join(content(root / name) for name in mine)
        verdict = "returned" if b"wrong" in text else "unjudged" if b"blind" in text else "approved"
        report = (f"{stem}.tidegate.json", json.dumps({"prop": stem, "verdict": verdict}).encode())
        outcomes.append(Outcome(stem, verdict, tuple(mine), ("quay",), "", (report,), f"judged {verdict}"))
    return outcomes


def content(path: Path) -> bytes:
    """What a file holds. A close that fails takes nothing from what was read; the judge is not what is put to the proof."""
    descriptor = os.open(path, os.O_RDONLY)
    try:
        return os.read(descriptor, path.stat().st_size)
    finally:
        with contextlib.suppress(OSError):
            os.close(descriptor)


def drain(base: Path, patience: float = 0.0) -> Drained:
    rules = GateRules(quiet=0.0, wait=0.0, stalled=0.0, first_pause=0.01, longest_pause=0.05)
    setup = GateSetup(paths_of(base), judge, rules)
    return Loop([setup], InProcess(), LoopRules(scan=5.0, hands=0), log=Log(level="warning")).run_once(patience)


if __name__ == "__main__":
    drain(Path(sys.argv[1]), float(sys.argv[2]) if len(sys.argv) > 2 else 0.0)
