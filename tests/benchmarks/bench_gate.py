"""A thousand small props at once through the gate, beside a plain loop that judges and copies the same ones.

    python -m tests.benchmarks.bench_gate --props 1000 --journaled
    python -m tests.benchmarks.bench_gate --props 1000 --dir /a/real/disk

A disk here is one that keeps a journal, as nearly all do. ext4 without one (some virtual machines have it) passes over every
inode that was freed within the last minute when it makes a new one, which costs a program that removes files more than one
that does not; tmpfs makes a sync free. --journaled makes an ext4 with its default features in a file, and mounts it for the
run (root only).

Both use two worker processes, the same judge, the same rule sets and the same sidecars, and both deliver to
<place>/<prop>/v001. The plain loop makes the copies as durable as the gate does: written with their time, synced, read again
from the disk and compared, the folder synced and then moved to its name, the folders it left and came to synced, the source
removed and that synced. It keeps no tickets, notes, ledger, free-name moves or order of steps that a crash could be recovered
from: that is what the overhead buys. The two take turns, batch by batch, so that a busy machine is unfair to neither.
Processor time is that of all processes of a side; a busy machine moves it less than it moves the throughput.
"""

from __future__ import annotations

import argparse
import hashlib
import json
import multiprocessing
import os
import shutil
import statistics
import subprocess
import tempfile
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager, nullcontext
from dataclasses import dataclass, field
from pathlib import Path

from tests.gate.hostile_case import crate, good_map
from tidegate.cli.gates import questions
from tidegate.cli.terms import with_rule_sets
from tidegate.daemon.log import Log
from tidegate.daemon.loop import Loop
from tidegate.daemon.setup import GateSetup, LoopRules, WorkerRules
from tidegate.daemon.workers import Workers
from tidegate.gate.identity import Deliveries
from tidegate.gate.outcome import DropContext
from tidegate.gate.publish import Delivered
from tidegate.gate.settings import GatePaths, GateRules
from tidegate.load.names_file import read_names
from tidegate.passage import TakeThrough, Terms

WORKERS = 2
TREES = ("inbox", "work", "delivery", "returned", "aside", "kept")


@dataclass
class Figures:
    """cpu: seconds of user and system time of the whole tree, which a busy machine moves less than it moves `seconds`."""

    seconds: float = 0.0
    cpu: float = 0.0
    props: int = 0
    waits: list[float] = field(default_factory=list)
    peak: int = 0
    verdicts: set[str] = field(default_factory=set)


class Peak(threading.Thread):
    """Peak of the resident memory of this process and all below it, in bytes, shared pages counted once (PSS)."""

    def __init__(self) -> None:
        super().__init__(daemon=True)
        self.bytes, self.over = 0, threading.Event()

    def run(self) -> None:
        while not self.over.wait(0.25):
            self.bytes = max(self.bytes, sum(_pss(pid) for pid in _tree(os.getpid())))

    def stop(self) -> int:
        self.over.set()
        self.join()
        return self.bytes


def _tree(pid: int) -> list[int]:
    try:
        children = Path(f"/proc/{pid}/task/{pid}/children").read_text().split()
    except OSError:
        return []
    return [pid, *(each for child in children for each in _tree(int(child)))]


def _pss(pid: int) -> int:
    try:
        text = Path(f"/proc/{pid}/smaps_rollup").read_text()
        return int(text.split("\nPss:")[1].split()[0]) << 10
    except (OSError, IndexError):
        return 0


def fill(inbox: Path, first: int, count: int) -> None:
    picture = good_map()
    for number in range(first, first + count):
        name = f"furniture_crate{number:05d}"
        build = crate(base_color=f"crate{number:05d}_base_color.png")
        build.json["asset"]["generator"] = f"bench {number}"
        (inbox / name).mkdir(parents=True)
        (inbox / name / f"{name}.glb").write_bytes(build.glb())
        (inbox / name / f"crate{number:05d}_base_color.png").write_bytes(picture)


def through_gate(home: Path, judge: TakeThrough, figures: Figures) -> None:
    paths = GatePaths("quayside", *(home / name for name in TREES), owner="slipway")
    setup = GateSetup(paths, judge, GateRules(quiet=0.0), questions(paths.inbox, judge.terms.scheme))
    waits: list[float] = []

    def told(delivered: tuple[Delivered, ...]) -> None:
        waits.extend(time.monotonic() - begin for _ in delivered)
        figures.verdicts |= {each.record.verdict for each in delivered}

    loop = Loop(
        [setup],
        Workers(WorkerRules(count=WORKERS), time.monotonic),
        LoopRules(),
        log=Log(level="error"),
        told=told,
    )
    begin, cpu = time.monotonic(), _cpu()
    loop.run_once()
    figures.seconds += time.monotonic() - begin
    figures.cpu += _cpu() - cpu
    figures.props += len(waits)
    figures.waits += waits


def plain_loop(home: Path, judge: TakeThrough, figures: Figures) -> None:
    inbox, out = home / "inbox", home / "out"
    (out / ".staging").mkdir(parents=True, exist_ok=True)
    begin, cpu = time.monotonic(), _cpu()
    with multiprocessing.get_context("spawn").Pool(WORKERS, _begin, (judge,)) as pool:
        jobs = [(root, out) for root in sorted(inbox.iterdir())]
        for _ in pool.imap_unordered(_plainly, jobs):
            figures.props += 1
    figures.seconds += time.monotonic() - begin
    figures.cpu += _cpu() - cpu


def _cpu() -> float:
    """Of this process and all below it that have ended: both sides end their workers."""
    times = os.times()
    return times.user + times.system + times.children_user + times.children_system


_judge: list[TakeThrough] = []


def _begin(judge: TakeThrough) -> None:
    _judge.append(judge)


def _plainly(job: tuple[Path, Path]) -> None:
    root, out = job
    context = DropContext("20261125T120000Z-000000", "quayside", "slipway", root.name, Deliveries(out))
    for outcome in _judge[0](root, context):
        staging, home = out / f".staging/{root.name}", out.joinpath(*outcome.place, outcome.prop)
        staging.mkdir()
        listing = b""
        for path in outcome.files:
            listing += _write(staging / path, (root / path).read_bytes(), (root / path).stat().st_mtime_ns)
        for name, data in outcome.sidecars:
            listing += _write(staging / name, data)
        record = json.dumps({"prop": outcome.prop, "files": outcome.hashes}).encode()
        listing += _write(staging / "record.json", record)
        _write(staging / "manifest.txt", listing)
        _sync(staging)
        _make(home)
        staging.rename(home / "v001")
        _sync(home)
        _sync(staging.parent)
        for path in outcome.files:
            (root / path).unlink()
        root.rmdir()
        _sync(root.parent)


def _write(path: Path, data: bytes, mtime: int = 0) -> bytes:
    with path.open("wb") as out:
        out.write(data)
        out.flush()
        if mtime:
            os.utime(out.fileno(), ns=(mtime, mtime))
        os.fsync(out.fileno())
    digest = hashlib.sha256(data).hexdigest()
    with path.open("rb") as back:
        os.posix_fadvise(back.fileno(), 0, 0, os.POSIX_FADV_DONTNEED)
        if hashlib.sha256(back.read()).hexdigest() != digest:
            raise OSError("read back wrong")
    return f"{digest}  {path.name}\n".encode()


def _make(folder: Path) -> None:
    """Make a folder and those above it, each durable by its name in the one above."""
    if not folder.is_dir():
        _make(folder.parent)
        folder.mkdir(exist_ok=True)
        _sync(folder.parent)


def _sync(folder: Path) -> None:
    descriptor = os.open(folder, os.O_RDONLY)
    os.fsync(descriptor)
    os.close(descriptor)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--props", type=int, default=1000)
    parser.add_argument("--rounds", type=int, default=1, help="share the props out over so many turns")
    parser.add_argument("--dir", help="a folder on the disk to measure, or to make the file in")
    parser.add_argument("--journaled", action="store_true", help="on an ext4 of our own, with a journal")
    options = parser.parse_args()
    base = Path(tempfile.mkdtemp(prefix="tidegate-bench-", dir=options.dir))
    try:
        with journaled(base) if options.journaled else nullcontext():
            measure(base, options.props, options.rounds)
    finally:
        shutil.rmtree(base, ignore_errors=True)


@contextmanager
def journaled(folder: Path) -> Iterator[None]:
    """`folder` becomes an ext4 in a file of 3 GiB beside it, until the end."""
    disk = folder.with_suffix(".disk")
    try:
        with disk.open("wb") as out:
            out.truncate(3 << 30)
        subprocess.run(["mkfs.ext4", "-q", "-F", str(disk)], check=True)
        subprocess.run(["mount", "-o", "loop", str(disk), str(folder)], check=True)
        yield
    finally:
        subprocess.run(["umount", str(folder)], check=False)
        disk.unlink(missing_ok=True)


def measure(base: Path, props: int, rounds: int) -> None:
    # First look and no pictures: the props are approved, and judging is as quick as it gets, so the gate's share shows.
    terms = Terms(scheme=read_names(), rule_set="first_look")
    judge = TakeThrough(with_rule_sets(terms))
    gate, plain = Figures(), Figures()
    count = max(1, props // rounds)
    for number in range(rounds):
        for figures, name in ((gate, "gate"), (plain, "plain")):
            fill(base / name / "inbox", number * count, count)
            peak = Peak()
            peak.start()
            if figures is gate:
                through_gate(base / name, judge, gate)
            else:
                plain_loop(base / name, judge, plain)
            figures.peak = max(figures.peak, peak.stop())
    assert gate.verdicts == {"approved"}, gate.verdicts
    waits = sorted(gate.waits)
    rates = gate.props / gate.seconds, plain.props / plain.seconds
    spent = 1000 * gate.cpu / gate.props, 1000 * plain.cpu / plain.props
    print(
        f"gate   {gate.props} props, {rates[0]:.1f} a second, {spent[0]:.1f} ms of processor time each, "
        f"peak memory of the tree {gate.peak >> 20} MiB"
    )
    print(
        f"       settled to delivered: median {statistics.median(waits):.1f} s, "
        f"99th percentile {waits[int(0.99 * (len(waits) - 1))]:.1f} s ({count} at once)"
    )
    print(
        f"plain  {plain.props} props, {rates[1]:.1f} a second, {spent[1]:.1f} ms of processor time each, "
        f"peak memory of the tree {plain.peak >> 20} MiB"
    )
    print(
        f"overhead of the gate: {100 * (rates[1] / rates[0] - 1):+.1f} % in throughput, "
        f"{100 * (spent[0] / spent[1] - 1):+.1f} % in processor time"
    )


if __name__ == "__main__":
    main()
