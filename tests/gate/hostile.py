"""Hostile drops through the real thing: real workers with small limits, the real judge, the shipped rule sets.

    python -m tests.gate.hostile                  all of them, about 500
    python -m tests.gate.hostile --every 12       a sample
    python -m tests.gate.hostile --only cyclic    those whose names hold that word

Each says which finding or reason it must end with. Over all of them: the daemon lives, no worker crashes, every file is in
one rightful place with its hash proven, and nothing appears outside the gate's folders.
"""

from __future__ import annotations

import argparse
import hashlib
import io
import json
import os
import re
import shutil
import sys
import tempfile
import time
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path

from tests.gate.hostile_archives import archive_cases
from tests.gate.hostile_case import Case
from tests.gate.hostile_flips import flip_cases, whole_drop
from tests.gate.hostile_meshes import mesh_cases
from tests.gate.hostile_names import name_cases
from tests.gate.hostile_pictures import picture_cases
from tidegate.cli.gates import questions
from tidegate.cli.terms import with_rule_sets
from tidegate.daemon.log import Log
from tidegate.daemon.loop import Drained, Loop
from tidegate.daemon.setup import DropLimits, GateSetup, LoopRules, WorkerRules
from tidegate.daemon.workers import Workers
from tidegate.gate.archive_limits import ArchiveLimits
from tidegate.gate.manifest import faults_in
from tidegate.gate.publish import Delivered
from tidegate.gate.settings import GatePaths, GateRules
from tidegate.load.listing import MESH_SUFFIXES
from tidegate.load.names_file import read_names
from tidegate.passage import TakeThrough, Terms

TREES = ("inbox", "work", "delivery", "returned", "aside", "kept")
LIMITS = DropLimits(memory=2 << 30, seconds=60.0, file_bytes=1 << 30)


def all_cases() -> list[Case]:
    return [*mesh_cases(), *flip_cases(), *picture_cases(), *archive_cases(), *name_cases()]


@dataclass
class Run:
    """What a run of some cases found: faults by case name."""

    faults: list[str] = field(default_factory=list)
    seconds: float = 0.0
    log: str = ""


def run_cases(cases: Sequence[Case], base: Path) -> Run:
    """Drop all cases into one inbox, drain it, and hold each to its word."""
    home = base / "gate"
    paths = GatePaths("quayside", *(home / name for name in TREES), owner="slipway")
    paths.inbox.mkdir(parents=True)
    (base / "secret.png").write_bytes(b"what is outside")
    if any(case.like for case in cases) and all(case.name != whole_drop().name for case in cases):
        cases = [*cases, whole_drop()]
    dropped = {case.name: lay(case, paths.inbox) for case in cases}
    begin = time.monotonic()
    out = io.StringIO()
    drained = drain(paths, out)
    run = Run(seconds=time.monotonic() - begin, log=out.getvalue())
    by_drop: dict[str, list[Delivered]] = {}
    for each in drained.delivered:
        by_drop.setdefault(each.record.drop, []).append(each)
    for case in cases:
        run.faults += [
            f"{case.name}: {fault}" for fault in held_to(case, by_drop.get(case.drop, []), dropped[case.name])
        ]
        if case.like:
            run.faults += [f"{case.name}: {fault}" for fault in unlike(case, by_drop)]
    run.faults += [f"the whole: {fault}" for fault in whole(base, paths, drained, cases)]
    return run


def drain(paths: GatePaths, out: io.StringIO) -> Drained:
    terms = Terms(
        scheme=read_names(),
        rule_set="first_look",
        by_category={name: name for name in ("furniture", "handheld", "building_part")},
        owner="slipway",
        pictures=("fault_sheet",),
    )
    setup = GateSetup(
        paths,
        TakeThrough(with_rule_sets(terms)),
        GateRules(
            quiet=0.0,
            wait=0.1,
            stalled=0.1,
            meshes=tuple(MESH_SUFFIXES),
            archive_limits=ArchiveLimits(bytes=8 << 20, ratio=20.0, files=50, depth=6),
        ),
        questions(paths.inbox, terms.scheme),
        limits=LIMITS,
    )
    loop = Loop([setup], Workers(WorkerRules(), time.monotonic), LoopRules(scan=0.2), log=Log("json", out=out))
    return loop.run_once(60.0)


def lay(case: Case, inbox: Path) -> set[str]:
    """Lay the case's files down; the sha256 of each."""
    hashes = set()
    for name, data in case.files.items():
        path = os.path.join(os.fsencode(inbox), name if isinstance(name, bytes) else name.encode())
        os.makedirs(os.path.dirname(path), exist_ok=True)
        with open(path, "wb") as out:
            content = data() if callable(data) else data
            out.write(content)
        hashes.add(hashlib.sha256(content).hexdigest())
    if case.more:
        case.more(inbox)
    return hashes


def held_to(case: Case, delivered: Sequence[Delivered], dropped: set[str]) -> list[str]:
    """What of the case's promises does not hold."""
    if case.stays:
        return [f"was taken in: {each.at}" for each in delivered]
    if not delivered:
        return ["came out nowhere"]
    faults = [f"{each.at}: {fault}" for each in delivered for fault in faults_in(each.at)]
    verdicts = {each.record.verdict for each in delivered} - {"kept"}
    if verdicts != {case.verdict}:
        faults.append(f"verdict {sorted(verdicts)}, must be {case.verdict}")
    told = [text for each in delivered for text in reports(each)]
    if not any(re.search(case.told, text, re.DOTALL) for text in told):
        faults.append(f"nothing says {case.told!r}; told: {[text[:300] for text in told]}")
    stands = {sha256 for each in delivered for _, _, sha256 in each.record.files}
    if lost := dropped - stands:
        faults.append(f"lost {len(lost)} files")
    return faults


def unlike(case: Case, by_drop: Mapping[str, Sequence[Delivered]]) -> Iterable[str]:
    """What a harmless case tells and the whole drop does not, and the reverse. Which islands are numbered is left out: of
    two that are equal, the last bit decides which comes first."""
    mine, whole_ones = (
        {
            re.sub(": numbers .*", "", text.replace(name, "NAME"))
            for each in by_drop.get(name, ())
            for text in reports(each)
        }
        for name in (case.drop, case.like)
    )
    if mine != whole_ones:
        yield f"is harmless and tells other than {case.like}: {sorted(mine ^ whole_ones)}"


def reports(each: Delivered) -> Iterable[str]:
    """`check: message` of every finding in a folder's reports, and `aside: what; came` of what was not judged."""
    for name, _ in each.record.sidecars:
        if not name.endswith(".tidegate.json"):
            continue
        record = json.loads((each.at / name).read_bytes())
        for finding in record.get("findings", ()):
            yield f"{finding['check']}: {finding['message']}"
        if record["schema"].startswith("tidegate-aside"):
            yield f"aside: {record['what']}; {record['came']}"


def whole(base: Path, paths: GatePaths, drained: Drained, cases: Sequence[Case]) -> list[str]:
    """What holds over all cases together."""
    faults = [f"outside: {name}" for name in os.listdir(base) if name not in ("gate", "secret.png")]
    faults += [f"outside: {name}" for name in os.listdir(base / "gate") if name not in TREES]
    secret = hashlib.sha256(b"what is outside").hexdigest()
    for each in drained.delivered:
        if any(sha256 == secret for _, _, sha256 in each.record.files):
            faults.append(f"took what lies outside: {each.at}")
        if re.search(r"worker|Error:", each.record.reason):
            faults.append(f"{each.record.drop}: {each.record.reason}")
    known = {case.drop for case in cases if case.stays}
    for tree in (paths.delivery, paths.returned, paths.aside, paths.kept):
        for folder, _, names in os.walk(os.fsencode(tree)):
            for name in names:
                mode = os.lstat(os.path.join(folder, name)).st_mode & 0o7777
                if mode & 0o133:
                    faults.append(f"mode {mode:o}: {os.fsdecode(os.path.join(folder, name))}")
    for folder, _, names in os.walk(os.fsencode(paths.inbox)):
        left = [name for name in names if not os.path.islink(os.path.join(folder, name))]
        plain = [name for name in left if os.path.isfile(os.path.join(folder, name))]
        at = os.fsdecode(os.path.relpath(folder, os.fsencode(paths.inbox)))
        if plain and not any(at.startswith(name) for name in known):
            faults.append(f"left in the inbox: {at}: {plain}")
    for name in ("tickets", "claimed", "handing", "unpacked"):
        faults += [f"left in work: {path}" for path in (paths.work / name).iterdir()]
    return faults


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--every", type=int, default=1)
    parser.add_argument("--only", default="")
    parser.add_argument("--keep", action="store_true", help="leave the folder behind for inspection")
    options = parser.parse_args()
    cases = [case for case in all_cases() if options.only in case.name][:: options.every]
    base = Path(tempfile.mkdtemp(prefix="tidegate-hostile-"))
    run = run_cases(cases, base)
    for fault in run.faults:
        print(fault)
    print(f"{len(cases)} hostile drops, {run.seconds:.0f} s, {len(run.faults)} faults")
    if options.keep or run.faults:
        print(f"kept: {base}")
        (base.with_suffix(".log")).write_text(run.log)
    else:
        shutil.rmtree(base)
    return 1 if run.faults else 0


if __name__ == "__main__":
    sys.exit(main())
