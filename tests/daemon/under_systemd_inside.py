"""Runs inside the booted copy, as root, beside README's unit: does things to it and writes down what it saw.

Standard library alone. Gives /srv/said.json: [what, whether it holds, what was seen].
"""

from __future__ import annotations

import json
import os
import shutil
import signal
import subprocess
import time
from collections.abc import Callable
from pathlib import Path

UNIT = "tidegate.service"
MESH = "v 0 0 0\nv 1 0 0\nv 0 1 0\nf 1 2 3\n"
SHORT = "[Service]\nWatchdogSec=4\nRestartSec=1\n"
said: list[tuple[str, bool, str]] = []


def shown(name: str) -> str:
    return subprocess.run(
        ["systemctl", "show", "-P", name, UNIT], capture_output=True, text=True, check=True
    ).stdout.strip()


def control(*words: str) -> None:
    subprocess.run(["systemctl", *words], check=True)


def comes(what: str, holds: Callable[[], bool], seen: Callable[[], str], seconds: float = 40) -> None:
    end = time.monotonic() + seconds
    while not (held := holds()) and time.monotonic() < end:
        time.sleep(0.1)
    said.append((what, held, seen()))


def told(name: str) -> tuple[Callable[[str], Callable[[], bool]], Callable[[], str]]:
    return lambda wanted: lambda: shown(name) == wanted, lambda: shown(name)


def drop(home: Path, name: str) -> None:
    """As an artist's account of the same group would: made elsewhere, then moved in whole."""
    made = home / name
    made.mkdir()
    (made / f"{name}.obj").write_text(MESH)
    for each in (made, made / f"{name}.obj"):
        shutil.chown(each, "tidegate")
    made.rename(home / "inbox" / name)


def prove(home: Path, config: Path) -> None:
    status, seen = told("StatusText")
    comes("it is ready once its gates are open (READY, STATUS)", lambda: shown("ActiveState") == "active", seen)
    said.append(("it runs without rights", Path(f"/proc/{shown('MainPID')}").owner() == "tidegate", ""))
    comes("its status tells of the gates", status("1 gate open"), seen)
    drop(home, "furniture_bollard")
    place = home / "delivery/furniture/bollard/v001/furniture_bollard.obj"
    comes("a drop is delivered under ProtectSystem=strict", place.exists, lambda: str(sorted(home.rglob("*.obj"))))
    good = config.read_text()
    config.write_text(good + "broken = [\n")
    control("reload", UNIT)
    comes("a broken edit shows in its status", lambda: "last good one" in shown("StatusText"), seen)
    config.write_text(good)
    control("reload", UNIT)
    comes("a mended one clears it", status("1 gate open"), seen)
    folder = Path(f"/run/systemd/system/{UNIT}.d")
    folder.mkdir(parents=True)
    (folder / "short.conf").write_text(SHORT)
    control("daemon-reload")
    control("restart", UNIT)
    restarts, count = told("NRestarts")
    time.sleep(10)
    said.append(("with WatchdogSec=4 it is alive after 10 s (WATCHDOG)", count() == "0", count()))
    os.kill(int(shown("MainPID")), signal.SIGSTOP)
    comes("hung, it is ended and started again", restarts("1"), count)
    comes("and is ready again", lambda: shown("SubState") == "running", lambda: shown("SubState"))
    os.kill(int(shown("MainPID")), signal.SIGKILL)
    comes("killed, it is started again", restarts("2"), count)
    comes("and is ready again", lambda: shown("SubState") == "running", lambda: shown("SubState"))
    drop(home, "furniture_crate")
    place = home / "delivery/furniture/crate/v001/furniture_crate.obj"
    comes("and goes on with its work", place.exists, lambda: str(sorted(home.rglob("*.obj"))))
    drop(home, "furniture_lantern")
    control("stop", UNIT)
    said.append(("stopped, it ends by itself in order (STOPPING)", shown("Result") == "success", shown("Result")))
    left = sorted(path.name for path in home.rglob("furniture_lantern.obj"))
    said.append(("and loses nothing", left == ["furniture_lantern.obj"], str(left)))


def main() -> None:
    try:
        config = Path(next(word for word in shown("ExecStart").split() if word.endswith(".toml")))
        prove(config.parent, config)
    except Exception as error:  # noqa: BLE001  whatever it is, it is told outside
        said.append(("the proof came to its end", False, repr(error)))
    Path("/srv/said.json").write_text(json.dumps(said))


if __name__ == "__main__":
    main()
