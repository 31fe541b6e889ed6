"""Where one run after the other happens: a folder, a zygote to run the gate, and the scene to begin from.

A scene is set up once and copied back before each run, always under the same path: the gate's own notes name it.
"""

from __future__ import annotations

import contextlib
import json
import os
import re
import select
import shutil
import signal
import subprocess
import sys
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from types import TracebackType

from tests.gate.scenes import Stage, empty, set_up

ROOT = Path(__file__).parents[2]
LONGEST = 120.0
"""No run takes so many seconds; one that does hangs."""
UNFORESEEN = ("Traceback (most recent call last)", "tidegate itself failed")


@dataclass(frozen=True)
class Ended:
    """code: exit status, negative for a signal. said: its standard error. log: what the tracer wrote."""

    code: int
    said: str
    log: str = ""


class Slot:
    """tooth: a deliberate bug that every run has (see toothed_driver), "" for none. user: as whom the gate runs, 0: as we.

    mishaps: what the gate said of exceptions it did not foresee, in any run.
    """

    def __init__(self, home: Path, tooth: str = "", user: int = 0) -> None:
        self.home = home
        self.tooth = tooth
        self.user = user
        self.mishaps: list[str] = []
        self.stage: Stage | None = None
        self._scene = ""
        environment = {"PATH": os.environ["PATH"], "PYTHONDONTWRITEBYTECODE": "1", "PYTHONHASHSEED": "0"}
        environment["PYTHONPATH"] = f"{ROOT}:{ROOT}/pipeline"
        self._zygote = subprocess.Popen(
            [sys.executable, "-S", "-m", "tests.gate.zygote"],
            cwd=ROOT,
            env=environment,
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            bufsize=0,
        )

    def __enter__(self) -> Slot:
        return self

    def __exit__(self, kind: type[BaseException] | None, error: BaseException | None, at: TracebackType | None) -> None:
        assert self._zygote.stdin and self._zygote.stdout
        self._clear_stage()
        self._zygote.stdin.close()
        self._zygote.wait(LONGEST)
        self._zygote.stdout.close()

    def begin(self, scene: str) -> Stage:
        """The scene as it was set up, for the run to come."""
        base = self.home / "base"
        if self.stage is None or self._scene != scene:
            self._clear_stage()
            self.stage, self._scene = set_up(scene, base), scene
            for number, top in enumerate((base, *self.stage.elsewhere)):
                copy_tree(top, self.home / f"template{number}")
        else:
            for number, top in enumerate((base, *self.stage.elsewhere)):
                empty(top)
                copy_tree(self.home / f"template{number}", top)
        return replace(self.stage)

    def run(self, tracer: Sequence[str] = (), *, patience: float = 0.0) -> Ended:
        """The gate drains the scene's inbox once, in a process of its own. tracer: strace's options."""
        return self.start(tracer, patience=patience).wait()

    def start(
        self, tracer: Sequence[str] = (), *, base: Path | None = None, patience: float = 0.0, serve: bool = False
    ) -> Running:
        """As `run`, without waiting for the end. One at a time."""
        base = base or self.home / "base"
        said, log = self.home / "said", self.home / "log"
        for path in (said, log):
            path.unlink(missing_ok=True)
        told = {"base": str(base), "tooth": self.tooth, "patience": patience, "said": str(said), "serve": serve}
        self._tell(json.dumps({**told, "user": self.user, "hold": bool(tracer)}).encode() + b"\n")
        pid = int(self._answer())
        strace = None
        if tracer:
            command = ["strace", "-f", "-o", str(log), *tracer, "-p", str(pid)]
            strace = subprocess.Popen(command, stderr=subprocess.PIPE)
            assert strace.stderr
            line = strace.stderr.readline()
            assert b"attached" in line, f"strace: {line.decode()}"
            self._tell(b"!")
        return Running(self, pid, strace, said, log)

    def _tell(self, data: bytes) -> None:
        assert self._zygote.stdin
        self._zygote.stdin.write(data)

    def _answer(self) -> bytes:
        assert self._zygote.stdout
        return self._zygote.stdout.readline()

    def has_answer(self, seconds: float) -> bool:
        return bool(select.select([self._zygote.stdout], [], [], seconds)[0])

    def _clear_stage(self) -> None:
        if self.stage is not None:
            self.stage.close()
        self.stage = None
        for path in self.home.iterdir():
            if path.is_dir():
                shutil.rmtree(path, ignore_errors=True)


@dataclass
class Running:
    """A gate at work."""

    slot: Slot
    pid: int
    strace: subprocess.Popen[bytes] | None
    said: Path
    log: Path

    def ended(self, seconds: float = 0.0) -> bool:
        """Whether it has ended, or does within that time. Then call `wait`."""
        return self.slot.has_answer(seconds)

    def stop(self, number: int = signal.SIGTERM) -> None:
        """Ask it to end, or make it. Then call `wait`."""
        with contextlib.suppress(ProcessLookupError):
            os.kill(self.pid, number)

    def wait(self) -> Ended:
        hung = not self.slot.has_answer(LONGEST)
        if hung:
            os.kill(self.pid, signal.SIGKILL)
        code = int(self.slot._answer())
        log = ""
        if self.strace:
            assert self.strace.stderr
            self.strace.wait(LONGEST)
            self.strace.stderr.close()
            log = self.log.read_text("utf-8", "replace")
        said = self.said.read_text("utf-8", "replace")
        if any(each in said for each in UNFORESEEN):
            self.slot.mishaps.append(said[-2000:])
        return Ended(code, f"it hung, and was killed\n{said}" if hung else said, log)


def have_strace() -> bool:
    """Whether the tracer is here and may trace (containers often forbid it)."""
    if not shutil.which("strace"):
        return False
    inject = ["strace", "-f", "-o", os.devnull, "-e", "trace=fsync", "-e", "inject=fsync:signal=KILL:when=1", "true"]
    return subprocess.run(inject, capture_output=True).returncode == 0


def copy_tree(source: Path, target: Path) -> None:
    """A copy with modes and times, hard links staying links among themselves."""
    target.mkdir(exist_ok=True)
    links: dict[int, Path] = {}

    def copy(inner: Path, to: Path) -> None:
        for entry in os.scandir(inner):
            path = to / entry.name
            if entry.is_dir(follow_symlinks=False):
                path.mkdir()
                copy(Path(entry.path), path)
                continue
            status = entry.stat(follow_symlinks=False)
            if status.st_nlink > 1 and status.st_ino in links:
                os.link(links[status.st_ino], path)
                continue
            shutil.copy2(entry.path, path, follow_symlinks=False)
            links[status.st_ino] = path

    copy(source, target)


def told(text: str, tops: Sequence[Path]) -> str:
    """A recorded call without what differs from run to run: the scene's place, tickets, part names, contents, results."""
    for number, top in enumerate(tops):
        text = text.replace(str(top), f"<{number}>")
    text = re.sub(r"\d{8}T\d{6}Z-[0-9a-f]{6}", "TICKET", text)
    return re.sub(r"-part-[0-9a-f]{16}", "-part-HEX", text)
