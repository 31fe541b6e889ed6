"""The real daemon as a process of its own, for tests that need a real one."""

from __future__ import annotations

import contextlib
import json
import os
import signal
import subprocess
import sys
import time
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

FOLDERS = ("inbox", "delivery", "returned", "work", "aside", "kept")
QUICK = """[daemon]
workers = 2
grace_seconds = 5.0
first_pause_seconds = 0.2
longest_pause_seconds = 1.0

"""


def gate(name: str, folder: str, **other: str) -> str:
    """A [[gate]] whose folders lie in `folder`, quick to act."""
    lines = [f'{each} = "{other.get(each, f"{folder}/{each}")}"' for each in FOLDERS]
    quick = ["quiet_seconds = 0.2", "scan_seconds = 1.0", "wait_for_textures_seconds = 1.0"]
    return "\n".join(["[[gate]]", f'name = "{name}"', *lines, *quick, "", ""])


@dataclass
class Daemon:
    """A daemon at work in `base`. log: what it wrote on standard error, one JSON object a line."""

    base: Path
    process: subprocess.Popen[bytes]

    def lines(self) -> list[dict[str, Any]]:
        return [json.loads(line) for line in (self.base / "log").read_text("utf-8").splitlines()]

    def said(self, message: str) -> list[dict[str, Any]]:
        return [line for line in self.lines() if line["message"] == message]

    def status(self) -> dict[str, dict[str, Any]]:
        """What `tidegate status` says, by gate."""
        command = [
            sys.executable,
            "-m",
            "tidegate",
            "status",
            "--format",
            "json",
            "--config",
            str(self.base / "tidegate.toml"),
        ]
        told = json.loads(subprocess.run(command, capture_output=True, check=False).stdout)
        return {each["gate"]: each for each in told["gates"]}

    def hang_up(self) -> None:
        self.process.send_signal(signal.SIGHUP)

    def stop(self) -> int:
        self.process.send_signal(signal.SIGTERM)
        return self.process.wait(60)


@contextlib.contextmanager
def daemon(
    base: Path,
    before: Sequence[str] = (),
    environment: dict[str, str] | None = None,
    python: str = sys.executable,
    **more: Any,
) -> Iterator[Daemon]:
    """before: a command that starts it, such as setpriv."""
    command = [*before, python, "-m", "tidegate", "watch", "--log", "json", "--config", str(base / "tidegate.toml")]
    with (base / "log").open("ab") as log:
        process = subprocess.Popen(
            command, env={**os.environ, **(environment or {})}, stdout=subprocess.DEVNULL, stderr=log, **more
        )
    try:
        yield Daemon(base, process)
    finally:
        if process.poll() is None:
            process.kill()
            process.wait()


def comes(wanted: Callable[[], Any], seconds: float = 180.0) -> Any:  # a busy machine is slow, not wrong
    """What `wanted` gives once that is something; fails when it stays nothing."""
    end = time.monotonic() + seconds
    while not (found := wanted()):
        assert time.monotonic() < end, "it did not come"
        time.sleep(0.05)
    return found
