"""The real daemon beside a datagram socket that plays the service manager, as sd_notify(3) describes it."""

from __future__ import annotations

import os
import signal
import socket
import subprocess
import sys
import time
from pathlib import Path

import pytest

pytestmark = pytest.mark.skipif(not hasattr(socket, "AF_UNIX"), reason="no such sockets here")
WATCHDOG = 2.0


def test_ready_signs_of_life_and_stopping_in_their_order(tmp_path: Path) -> None:
    folders = ("inbox", "delivery", "returned", "work", "aside")
    (tmp_path / "inbox").mkdir()
    lines = [f'{each} = "{each}"' for each in folders]
    (tmp_path / "tidegate.toml").write_text("\n".join(['[[gate]]\nname = "quay"', *lines, ""]))
    with socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM) as manager:
        manager.bind(str(tmp_path / "notify"))
        manager.settimeout(60)
        usec = str(int(WATCHDOG * 1e6))
        environment = {**os.environ, "NOTIFY_SOCKET": str(tmp_path / "notify"), "WATCHDOG_USEC": usec}
        command = [sys.executable, "-m", "tidegate", "watch", "--config", str(tmp_path / "tidegate.toml")]
        daemon = subprocess.Popen(command, env=environment, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
        try:
            first = manager.recv(4096).decode().splitlines()
            assert first[0] == "READY=1"
            assert first[1].startswith("STATUS=1 gate")
            last = time.monotonic()
            for _ in range(3):
                assert manager.recv(4096) == b"WATCHDOG=1"
                now = time.monotonic()
                assert now - last < WATCHDOG  # half of it is the aim; above it the manager would kill us
                last = now
            daemon.send_signal(signal.SIGTERM)
            while (said := manager.recv(4096)) == b"WATCHDOG=1":
                pass
            assert said == b"STOPPING=1"
            daemon.wait(60)
        finally:
            if daemon.poll() is None:
                daemon.kill()
                daemon.wait()
