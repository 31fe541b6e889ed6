"""What happens in a soak: people at the inbox, disks and permissions that come and go, and a gate that dies now and then."""

from __future__ import annotations

import contextlib
import os
import random
import signal
import subprocess
import time
from collections import Counter
from collections.abc import Callable
from pathlib import Path

from tests.gate import law, volumes
from tests.gate.driver import paths_of
from tests.gate.scenes import Stage
from tests.gate.slot import Running, Slot, have_strace
from tidegate.gate import durable

VOLUMES = ("delivery", "inbox", "work", "returned")
SIZE = "1g"
BACKLOG = 60
"""So many things lie in the inbox before people pause: the gate always has something to do, and sees no mountain."""
MOST_HANDLES = 40


class Soak:
    """did: how often each thing happened. early, late: memory of the gate in KiB, medians of the first and last third."""

    def __init__(self, base: Path, slot: Slot, seed: int, volume: str) -> None:
        self.stage = Stage(base)
        self.paths = paths_of(base)
        self.inbox = self.paths.inbox
        self.slot = slot
        self.random = random.Random(seed)
        self.removed: set[str] = set()
        self.did: Counter[str] = Counter()
        self.memory: list[int] = []
        self.handles: list[int] = []
        self.early = self.late = 0
        self._known: set[Path] = set()
        self._running: Running | None = None
        self._traced = False
        self._undo: list[tuple[float, Callable[[], None]]] = []
        self._strace = have_strace()
        self._ill = False
        self._barred: set[tuple[int, int]] = set()
        for folder in (self.inbox, self.paths.work, *self.paths.trees):
            folder.mkdir()
        self.volume = getattr(self.paths, volume or "delivery")
        self._mounted = bool(volume)
        if volume:
            volumes.mount(self.volume, SIZE)
            self.volume.chmod(0o777)

    def close(self) -> None:
        self._end(signal.SIGKILL)
        if self._mounted:
            volumes.unmount(self.volume)

    def run(self, drops: int) -> list[str]:
        rng = self.random
        wrong: list[str] = []
        self._start()
        for number in range(drops):
            self._rest()
            self._drop(number)
            for _ in range(rng.randint(0, 3)):
                self._meddle()
            self._trouble()
            if rng.random() < 0.03:
                self._end(signal.SIGKILL if rng.random() < 0.8 else signal.SIGTERM)
                wrong += [f"after {number} drops: {fault}" for fault in law.nothing_partial(self.stage, self._known)]
            if self._running is None or self._running.ended():
                self._end(signal.SIGKILL)
                self._start()
            if number % 5 == 0:
                self._sample()
        self._heal(everything=True)
        self._end(signal.SIGTERM)
        for _ in range(5):
            ended = self.slot.start(base=self.stage.base, patience=5.0).wait()
            if ended.code:
                wrong.append(f"the last drain ended with {ended.code}: {ended.said[-600:]}")
            if not any(path.is_file() for path in self.inbox.rglob("*")):
                break
        wrong += [f"the gate met what it did not foresee: {each}" for each in self.slot.mishaps]
        return wrong + self._law()

    def _drop(self, number: int) -> None:
        """One person's drop, written in pieces."""
        rng = self.random
        name = f"prop{number % 50 if rng.random() < 0.3 else number}"
        words = rng.choice(["", "", "wrong", "blind"])
        home = f"{name}/" if rng.random() < 0.6 else ""
        for suffix in ("", "_base_color", "_normal")[: rng.randint(1, 3)]:
            path = f"{home}{name}{suffix}.{'png' if suffix else 'obj'}"
            if not (self.inbox / path).exists():
                self.did["written"] += 1
                self._put(path, words + "x" * rng.randint(0, 5000))
            if rng.random() < 0.05:
                time.sleep(0.05)

    def _put(self, path: str, text: str) -> None:
        """A person whose folder the gate takes away meanwhile makes it again."""
        before = set(self.stage.expected)
        for _ in range(3):
            try:
                self.stage.put(path, text=text)
                return
            except FileNotFoundError:
                for nonce in set(self.stage.expected) - before:
                    del self.stage.expected[nonce]  # never written

    def _meddle(self) -> None:
        """What people do to files that still lie in the inbox. A name of ours is there for an instant, and nobody's to rename."""
        rng = self.random
        files = [
            Path(folder, name)
            for folder, _, names in os.walk(self.inbox)
            for name in names
            if not name.startswith(durable.PART)
        ]
        if not files:
            return
        path, what = rng.choice(sorted(files)), rng.random()
        with contextlib.suppress(OSError):  # the gate was faster
            if what < 0.3:
                out = os.open(path, os.O_WRONLY | os.O_APPEND)
                os.write(out, b"more")
                os.close(out)
                self.did["appended to"] += 1
            elif what < 0.6:
                path.rename(path.with_name(f"renamed{rng.randint(0, 10**9)}{path.suffix}"))
                self.did["renamed"] += 1
            elif what < 0.7:
                nonce = path.read_bytes()[:30].decode("ascii", "replace").split(" ")[0]
                path.unlink()
                self.removed.add(nonce)
                self.did["removed"] += 1
            elif what < 0.8:
                self._flip(path, 0o000 if rng.random() < 0.5 else 0o200)

    def _trouble(self) -> None:
        """A disk or a folder becomes ill for a while; one at a time."""
        rng = self.random
        if self._ill or rng.random() > 0.04:
            return
        what = rng.choice(["full", "read-only", "gone", "not permitted", "not permitted"])
        if what == "not permitted":
            self._ill = True
            self._flip(rng.choice([self.inbox, self.paths.work / "claimed", *self.paths.trees]), 0o555)
            self._later(lambda: setattr(self, "_ill", False))
        elif not self._mounted:
            return
        elif what == "full":
            self._make_ill(
                "full", lambda: volumes.fill(self.volume, True), lambda: volumes.fill(self.volume, False, SIZE)
            )
        elif what == "read-only":
            self._make_ill(
                "read-only", lambda: volumes.read_only(self.volume, True), lambda: volumes.read_only(self.volume, False)
            )
        elif self.volume in self.paths.trees:
            away = self.stage.base.with_name("away")
            away.mkdir(exist_ok=True)
            self._make_ill("gone", lambda: volumes.move(self.volume, away), lambda: volumes.move(away, self.volume))

    def _make_ill(self, what: str, do: Callable[[], None], undo: Callable[[], None]) -> None:
        try:
            do()
        except subprocess.CalledProcessError:
            return  # busy: a file is open for writing
        self.did[f"times {self.volume.name} {what}"] += 1
        self._ill = True

        def well() -> None:
            undo()
            self._ill = False

        self._later(well)

    def _flip(self, path: Path, mode: int) -> None:
        """Take permission and give it back later, wherever the gate has brought the file meanwhile.

        Not twice at a time: the second would give back what the first had left.
        """
        with contextlib.suppress(OSError):
            handle = os.open(path, os.O_PATH)
            facts = os.fstat(handle)
            which, before = (facts.st_dev, facts.st_ino), facts.st_mode & 0o777
            if which in self._barred:
                os.close(handle)
                return
            Path(f"/proc/self/fd/{handle}").chmod(mode)
            self.did["permissions taken"] += 1
            self._barred.add(which)

            def back() -> None:
                Path(f"/proc/self/fd/{handle}").chmod(before)
                os.close(handle)
                self._barred.remove(which)

            self._later(back)

    def _later(self, do: Callable[[], None]) -> None:
        self._undo.append((time.monotonic() + self.random.uniform(0.2, 1.0), do))

    def _heal(self, *, everything: bool = False) -> None:
        now = time.monotonic()
        due = [do for at, do in self._undo if everything or at <= now]
        self._undo = [] if everything else [(at, do) for at, do in self._undo if at > now]
        for do in due:
            try:
                do()
            except OSError:
                self._later(do)  # the volume it concerns is read-only or away just now
        if everything and self._undo:
            self._heal(everything=True)

    def _rest(self) -> None:
        """Until the gate has caught up, and people can write again."""
        # Where each third write fails nothing of more writes comes through: that disk is given up, and the gate starts anew.
        end = time.monotonic() + (10.0 if self._traced else 60.0)
        self._heal()
        while True:
            if self._traced and time.monotonic() > end:
                self._end(signal.SIGKILL)
                self._start(sound=True)
                end = time.monotonic() + 60.0
            writable = not (self._ill and self.volume == self.inbox)
            dead = self._running is not None and self._running.ended()
            if writable and (dead or time.monotonic() > end or sum(1 for _ in self.inbox.iterdir()) < BACKLOG):
                return
            time.sleep(0.01)
            self._heal()

    def _start(self, *, sound: bool = False) -> None:
        rng = self.random
        tracer: list[str] = []
        if self._strace and not sound and rng.random() < 0.3:
            call = rng.choice(["write", "fsync", "renameat2", "mkdir", "unlink", "close"])
            fault = f"error={rng.choice(['ENOSPC', 'EIO', 'EACCES', 'EROFS'])}"
            inject = f"inject={call}:{fault}:when={rng.randint(20, 400)}+{rng.randint(3, 60)}"
            tracer = ["-e", f"trace={call}", "-e", inject]
        self._traced = bool(tracer)
        self._running = self.slot.start(tracer, base=self.stage.base, serve=True)
        self.did["starts, calls failing" if tracer else "starts"] += 1

    def _end(self, number: int) -> None:
        if self._running is not None:
            self._running.stop(number)
            self._running.wait()
            self.did["killed" if number == signal.SIGKILL else "stopped"] += 1
        self._running = None

    def _sample(self) -> None:
        if self._running is None or self._traced:
            return
        with contextlib.suppress(OSError, IndexError):
            home = Path(f"/proc/{self._running.pid}")
            self.handles.append(sum(1 for _ in (home / "fd").iterdir()))
            self.memory.append(int((home / "status").read_text().split("VmRSS:")[1].split()[0]))

    def _law(self) -> list[str]:
        """As `law.fulfilled`, where any tree is a rightful place, and what people removed may be gone."""
        found = law.places(self.stage)
        # An empty folder in the inbox is what people left who removed everything in it: no drop.
        left = [fault for fault in law.left_over(self.stage) if not Path(fault.partition(": ")[2]).is_dir()]
        wrong = law.nothing_partial(self.stage) + left
        for nonce in self.stage.expected:
            came = found.get(nonce, [])
            if len(came) != 1 and not (nonce in self.removed and not came):
                wrong.append(f"{nonce} is in {came}")
        third = len(self.memory) // 3
        if third:
            self.early, self.late = (sorted(part)[third // 2] for part in (self.memory[:third], self.memory[-third:]))
        if self.late > self.early * 1.3 + 8000:
            wrong.append(f"memory grew from {self.early} to {self.late} KiB")
        if max(self.handles, default=0) > MOST_HANDLES:
            wrong.append(f"{max(self.handles)} handles were open, at most {MOST_HANDLES} were expected")
        return wrong
