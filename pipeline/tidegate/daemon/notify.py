"""Telling the service manager how we are, as sd_notify(3) and sd_watchdog_enabled(3) describe it."""

from __future__ import annotations

import contextlib
import os
import socket
from collections.abc import Mapping


class Notify:
    """Sends states to `$NOTIFY_SOCKET`; does nothing where it is not set. A send that fails is let be: the manager's
    own timeout is the answer to a lost message.
    """

    def __init__(self, environment: Mapping[str, str] | None = None, pid: int | None = None) -> None:
        environment = os.environ if environment is None else environment
        self.address = environment.get("NOTIFY_SOCKET", "")
        self.watchdog_seconds = _watchdog(environment, os.getpid() if pid is None else pid)

    def ready(self, status: str = "") -> None:
        self._send("READY=1", f"STATUS={_line(status)}" if status else "")

    def reloading(self, monotonic_usec: int) -> None:
        """Must be followed by `ready`."""
        self._send("RELOADING=1", f"MONOTONIC_USEC={monotonic_usec}")

    def stopping(self) -> None:
        self._send("STOPPING=1")

    def status(self, text: str) -> None:
        self._send(f"STATUS={_line(text)}")

    def alive(self) -> None:
        """To be called at least every half `watchdog_seconds`."""
        if self.watchdog_seconds:
            self._send("WATCHDOG=1")

    def _send(self, *assignments: str) -> None:
        if not self.address.startswith(("/", "@")):
            return  # unset, or a kind of socket that is not offered here (vsock)
        address = "\0" + self.address[1:] if self.address.startswith("@") else self.address
        data = "\n".join(text for text in assignments if text).encode()
        with (
            contextlib.suppress(OSError),
            socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM | socket.SOCK_CLOEXEC) as out,
        ):
            out.sendto(data, address)


def _line(text: str) -> str:
    return " ".join(text.split())


def _watchdog(environment: Mapping[str, str], pid: int) -> float:
    """Seconds the manager waits for a sign of life, 0 when it does not wait for ours."""
    usec, wanted = environment.get("WATCHDOG_USEC", ""), environment.get("WATCHDOG_PID", "")
    if not usec.isdigit() or (wanted and wanted != str(pid)):
        return 0.0
    return int(usec) / 1e6
