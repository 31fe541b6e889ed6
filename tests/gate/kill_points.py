"""Stops the gate at every disk call, by a system-call tracer, and holds it to the law: real processes, real disk.

    python -m tests.gate.kill_points              every scene, killed at every call, then again in recovery
    python -m tests.gate.kill_points --errors     every call fails instead: ENOSPC EIO EACCES EROFS
    python -m tests.gate.kill_points --scene re_drop --only 12

Needs strace with fault injection (`-e inject=`, since 4.15).
"""

from __future__ import annotations

import argparse
import os
import re
import shutil
import subprocess
import sys
import tempfile
from collections import Counter
from collections.abc import Iterator, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from pathlib import Path

from tests.gate import law
from tests.gate.scenes import SCENES, Stage, set_up

CALLS = "openat,write,pwrite64,fsync,fdatasync,close,mkdir,rename,renameat,renameat2,link,linkat,unlink,unlinkat,rmdir,ftruncate"
ERRORS = ("ENOSPC", "EIO", "EACCES", "EROFS")
ROOT = Path(__file__).parents[2]
_LINE = re.compile(r"^\d+ +(\w+)\((.*)$")


@dataclass(frozen=True)
class Point:
    """The `number`th time the process makes `call`, which then does `what` to a file of the gate."""

    call: str
    number: int
    what: str

    def __str__(self) -> str:
        return f"{self.call} {self.number}: {self.what[:160]}"


def have_strace() -> bool:
    """Whether the tracer is here and may trace (containers often forbid it)."""
    if not shutil.which("strace"):
        return False
    inject = ["strace", "-f", "-o", os.devnull, "-e", "trace=fsync", "-e", "inject=fsync:signal=KILL:when=1", "true"]
    return subprocess.run(inject, capture_output=True).returncode == 0


def points_of(base: Path, module: str = "tests.gate.driver", elsewhere: Sequence[Path] = ()) -> list[Point]:
    """Run the driver on a scene under the tracer and list every disk call on the scene's files."""
    log = base.with_name(base.name + ".strace")
    run_driver(base, ["strace", "-f", "-y", "-s", "200", "-o", str(log), "-e", f"trace={CALLS}"], module)
    return list(_points(log.read_text("utf-8", "replace"), [str(base), *map(str, elsewhere)]))


def _points(log: str, tops: list[str]) -> Iterator[Point]:
    counts: Counter[str] = Counter()
    for line in log.splitlines():
        if not (match := _LINE.match(line)):
            continue
        call, rest = match.groups()
        counts[call] += 1
        if not any(f"{top}/" in rest for top in tops):
            continue
        if call == "openat" and "O_WRONLY" not in rest and "O_RDWR" not in rest:
            continue
        yield Point(call, counts[call], rest)


def run_driver(
    base: Path, tracer: Sequence[str] = (), module: str = "tests.gate.driver", *, patience: float = 0.0
) -> subprocess.CompletedProcess[bytes]:
    environment = {
        **os.environ,
        "PYTHONDONTWRITEBYTECODE": "1",
        "PYTHONHASHSEED": "0",
        "PYTHONPATH": f"{ROOT}:{ROOT}/pipeline",
    }
    command = [*tracer, sys.executable, "-S", "-m", module, str(base), str(patience)]
    return subprocess.run(command, cwd=ROOT, env=environment, capture_output=True, timeout=120)


def injected(point: Point, fault: str) -> list[str]:
    return [
        "strace",
        "-f",
        "-o",
        os.devnull,
        "-e",
        f"trace={point.call}",
        "-e",
        f"inject={point.call}:{fault}:when={point.number}",
    ]


def kill_once(
    scene: str, point: Point, home: Path, *, module: str = "tests.gate.driver", again: Point | None = None
) -> list[str]:
    """Kill at `point`, and recovery at `again`; then start once more. What breaks the law, [] when nothing does."""
    stage = set_up(scene, home / "base")
    try:
        run_driver(stage.base, injected(point, "signal=KILL"), module)
        wrong = _instant(stage)
        if again:
            run_driver(stage.base, injected(again, "signal=KILL"), module)
            wrong += _instant(stage)
        run = run_driver(stage.base, module=module)
        if run.returncode:
            wrong.append(f"the next start ended with {run.returncode}: {run.stderr.decode()[-600:]}")
        return [f"{scene}, {point}: {fault}" for fault in wrong + law.fulfilled(stage)]
    finally:
        stage.close()


def fail_once(scene: str, point: Point, error: str, home: Path, *, module: str = "tests.gate.driver") -> list[str]:
    """Let the call fail; the run goes on by itself, and one more start must find everything in place."""
    stage = set_up(scene, home / "base")
    try:
        run_driver(stage.base, injected(point, f"error={error}"), module)
        wrong = _instant(stage)
        run = run_driver(stage.base, module=module, patience=1.0)
        if run.returncode:
            wrong.append(f"the next start ended with {run.returncode}: {run.stderr.decode()[-600:]}")
        return [f"{scene}, {point} {error}: {fault}" for fault in wrong + law.fulfilled(stage)]
    finally:
        stage.close()


def _instant(stage: Stage) -> list[str]:
    return law.never_gone(stage) + law.nothing_partial(stage)


def scene_points(scene: str, home: Path, module: str = "tests.gate.driver") -> list[Point]:
    stage = set_up(scene, home / "base")
    try:
        return points_of(stage.base, module, stage.elsewhere)
    finally:
        stage.close()


def recovery_points(scene: str, point: Point, home: Path) -> list[Point]:
    """The disk calls of the recovery from a kill at `point`."""
    stage = set_up(scene, home / "base")
    try:
        run_driver(stage.base, injected(point, "signal=KILL"))
        return points_of(stage.base, elsewhere=stage.elsewhere)
    finally:
        stage.close()


def main(arguments: Sequence[str] | None = None) -> int:
    parser = argparse.ArgumentParser(description="kill the gate at every disk call")
    parser.add_argument("--scene", action="append", choices=sorted(SCENES))
    parser.add_argument("--errors", action="store_true", help="let calls fail instead")
    parser.add_argument("--every", type=int, default=1, help="only each so manieth point")
    parser.add_argument("--only", type=int, help="one point, by its place in the list")
    parser.add_argument("--jobs", type=int, default=os.cpu_count() or 1)
    options = parser.parse_args(arguments)
    count, wrong = 0, []
    with tempfile.TemporaryDirectory(prefix="tidegate-kill-") as top, ThreadPoolExecutor(options.jobs) as pool:
        number = iter(range(10**9))

        def fresh() -> Path:
            home = Path(top, str(next(number)))
            home.mkdir()
            return home

        def one(job: tuple[str, Point, str, Point | None]) -> list[str]:
            home = fresh()
            scene, point, error, again = job
            try:
                return fail_once(scene, point, error, home) if error else kill_once(scene, point, home, again=again)
            finally:
                shutil.rmtree(home, ignore_errors=True)

        for scene in options.scene or SCENES:
            points = scene_points(scene, fresh())[:: options.every]
            points = points if options.only is None else [points[options.only]]
            jobs: list[tuple[str, Point, str, Point | None]]
            if options.errors:
                jobs = [(scene, point, error, None) for point in points for error in ERRORS]
            else:
                jobs = [(scene, point, "", None) for point in points]
                # Recovery killed: from the middle of each third of the run, at every call it makes.
                for start in points[len(points) // 6 :: max(1, len(points) // 3)] if options.only is None else []:
                    jobs += [
                        (scene, start, "", each) for each in recovery_points(scene, start, fresh())[:: options.every]
                    ]
            found = [fault for faults in pool.map(one, jobs) for fault in faults]
            count += len(jobs)
            wrong += found
            print(f"{scene:15} {len(points):4} calls, {len(jobs):5} runs, {len(found)} faults", flush=True)
            for fault in found[:20]:
                print("   ", fault, flush=True)
    print(f"{count} runs, {len(wrong)} faults")
    return 1 if wrong else 0


if __name__ == "__main__":
    sys.exit(main())
