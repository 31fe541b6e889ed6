"""Lives with the gate for a while: people write, rename and remove, and the gate is killed, stopped and failed.

    python -m tests.soak --seed 7 --drops 2000

Some starts run under strace, which then fails a share of the disk calls with ENOSPC, EIO, EACCES or EROFS; now and then
a tree is unmounted (its staging folder goes away). In the end: every file that nobody removed is in one rightful place,
manifests verify, nothing is left over, and neither memory nor open handles have grown.
"""

from __future__ import annotations

import argparse
import os
import random
import shutil
import signal
import subprocess
import sys
import tempfile
import time
from pathlib import Path

from tests.gate import law
from tests.gate.driver import paths_of
from tests.gate.kill_points import ROOT, have_strace, run_driver
from tests.gate.scenes import Stage

DRIVER = "tests.gate.soak_driver"


class Soak:
    def __init__(self, base: Path, seed: int) -> None:
        self.stage = Stage(base)
        self.random = random.Random(seed)
        self.inbox = paths_of(base).inbox
        self.removed: set[str] = set()
        self.gate: subprocess.Popen[bytes] | None = None
        self.traced = False
        self.memory: list[int] = []
        self.handles: list[int] = []
        self.starts = 0
        self.strace = have_strace()

    def drop(self, number: int) -> None:
        """One person's drop, written in pieces."""
        rng = self.random
        name = f"prop{number % 50 if rng.random() < 0.3 else number}"
        words = rng.choice(["", "", "wrong", "blind"])
        home = f"{name}/" if rng.random() < 0.6 else ""
        for suffix in ("", "_base_color", "_normal")[: rng.randint(1, 3)]:
            path = f"{home}{name}{suffix}.{'png' if suffix else 'obj'}"
            if (self.inbox / path).exists():
                continue
            self.stage.put(path, text=words + "x" * rng.randint(0, 5000))
            if rng.random() < 0.1:
                time.sleep(0.05)

    def meddle(self) -> None:
        """What people do to files that still lie in the inbox."""
        rng = self.random
        files = [Path(folder, name) for folder, _, names in os.walk(self.inbox) for name in names]
        if not files:
            return
        path = rng.choice(files)
        try:
            what = rng.random()
            if what < 0.3:
                with path.open("ab") as out:
                    out.write(b"more")
            elif what < 0.6:
                target = path.with_name(f"renamed{rng.randint(0, 10**9)}{path.suffix}")
                path.rename(target)
            elif what < 0.7:
                nonce = path.read_bytes()[:30].decode("ascii", "replace").split(" ")[0]
                path.unlink()
                self.removed.add(nonce)
        except OSError:
            return  # the gate was faster

    def start(self) -> None:
        rng = self.random
        environment = {**os.environ, "PYTHONPATH": f"{ROOT}:{ROOT}/pipeline", "PYTHONDONTWRITEBYTECODE": "1"}
        command = [sys.executable, "-S", "-m", DRIVER, str(self.stage.base)]
        self.traced = self.strace and rng.random() < 0.3
        if self.traced:
            call = rng.choice(["write", "fsync", "renameat2", "mkdir", "unlink", "close"])
            fault = f"error={rng.choice(['ENOSPC', 'EIO', 'EACCES', 'EROFS'])}"
            inject = f"inject={call}:{fault}:when={rng.randint(20, 400)}+{rng.randint(3, 60)}"
            command = ["strace", "-f", "-o", os.devnull, "-e", f"trace={call}", "-e", inject, *command]
        self.gate = subprocess.Popen(
            command, cwd=ROOT, env=environment, stderr=subprocess.DEVNULL, start_new_session=True
        )
        self.starts += 1

    def end(self, number: int) -> None:
        if self.gate is None:
            return
        os.killpg(self.gate.pid, number)
        try:
            self.gate.wait(60)
        except subprocess.TimeoutExpired:
            os.killpg(self.gate.pid, signal.SIGKILL)
            self.gate.wait()
        self.gate = None

    def sample(self) -> None:
        if self.gate is None or self.traced or self.gate.poll() is not None:
            return
        try:
            status = Path(f"/proc/{self.gate.pid}/status").read_text()
            self.handles.append(len(list(Path(f"/proc/{self.gate.pid}/fd").iterdir())))
            self.memory.append(int(status.split("VmRSS:")[1].split()[0]))
        except (OSError, IndexError):
            return

    def unmount(self) -> None:
        """A tree goes away and comes back."""
        tree = self.random.choice(paths_of(self.stage.base).trees)
        staging, away = tree / ".tidegate-staging", self.stage.base / "unmounted"
        if not staging.is_dir():
            return
        staging.rename(away)
        time.sleep(0.3)
        away.rename(staging)

    def run(self, drops: int) -> list[str]:
        rng = self.random
        self.start()
        wrong: list[str] = []
        for number in range(drops):
            self.drop(number)
            for _ in range(rng.randint(0, 3)):
                self.meddle()
            if rng.random() < 0.03:
                self.end(signal.SIGKILL if rng.random() < 0.8 else signal.SIGTERM)
                wrong += [f"after {number} drops: {fault}" for fault in law.nothing_partial(self.stage)]
                self.start()
            elif self.gate is not None and self.gate.poll() is not None:
                self.start()
            if rng.random() < 0.01:
                self.unmount()
            if number % 5 == 0:
                self.sample()
            time.sleep(rng.random() * 0.06)
        self.end(signal.SIGTERM)
        for _ in range(5):
            run_driver(self.stage.base, patience=5.0)
            if not any(path.is_file() for path in self.inbox.rglob("*")):
                break
        return wrong + self.law()

    def law(self) -> list[str]:
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
        if third > 10:
            early, late = sorted(self.memory[:third])[third // 2], sorted(self.memory[-third:])[third // 2]
            if late > early * 1.3 + 8000:
                wrong.append(f"memory grew from {early} to {late} KiB")
        if self.handles and max(self.handles) > 40:
            wrong.append(f"{max(self.handles)} handles were open")
        return wrong


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--drops", type=int, default=2000)
    parser.add_argument("--keep", action="store_true", help="leave the folder behind for inspection")
    options = parser.parse_args()
    home = Path(tempfile.mkdtemp(prefix="tidegate-soak-"))
    base = home / "base"
    base.mkdir()
    soak = Soak(base, options.seed)
    (base / "inbox").mkdir()
    begin = time.monotonic()
    wrong = soak.run(options.drops)
    files, removed = len(soak.stage.expected), len(soak.removed)
    print(
        f"seed {options.seed}: {options.drops} drops, {files} files, {removed} removed by people, {soak.starts} starts, "
        f"{time.monotonic() - begin:.0f} s, memory {max(soak.memory, default=0) >> 10} MiB, "
        f"handles {max(soak.handles, default=0)}: {len(wrong)} faults"
    )
    for fault in wrong[:40]:
        print("   ", fault)
    if options.keep or wrong:
        print(f"kept: {home}")
    else:
        shutil.rmtree(home, ignore_errors=True)
    return 1 if wrong else 0


if __name__ == "__main__":
    sys.exit(main())
