"""The real daemon beside a datagram socket that plays the service manager, as sd_notify(3) describes it."""

from __future__ import annotations

import contextlib
import os
import signal
import socket
import time
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.daemon.real import QUICK, comes, daemon, gate

pytestmark = pytest.mark.skipif(not hasattr(socket, "AF_UNIX"), reason="no such sockets here")
WATCHDOG = 2.0


@contextlib.contextmanager
def manager_in(folder: Path) -> Iterator[socket.socket]:
    with socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM) as manager:
        manager.bind(str(folder / "notify"))
        manager.settimeout(60)
        yield manager


def heard(manager: socket.socket) -> list[str]:
    """The next message that is no mere sign of life."""
    while (said := manager.recv(4096).decode()) == "WATCHDOG=1":
        pass
    return said.splitlines()


def test_ready_signs_of_life_and_stopping_in_their_order(tmp_path: Path) -> None:
    (tmp_path / "tidegate.toml").write_text(QUICK + gate("quay", "."))
    told = {"NOTIFY_SOCKET": str(tmp_path / "notify"), "WATCHDOG_USEC": str(int(WATCHDOG * 1e6))}
    with manager_in(tmp_path) as manager, daemon(tmp_path, environment=told) as at_work:
        assert heard(manager) == ["READY=1", "STATUS=1 gate open"]
        last = time.monotonic()
        for _ in range(3):
            assert manager.recv(4096) == b"WATCHDOG=1"
            now = time.monotonic()
            assert now - last < WATCHDOG  # half of it is the aim; above it the manager would kill us
            last = now
        at_work.process.send_signal(signal.SIGTERM)
        assert heard(manager) == ["STOPPING=1"]
        assert at_work.process.wait(60) == 0


def test_a_reload_is_told_as_the_manager_waits_for_it(tmp_path: Path) -> None:
    # sd_notify(3): RELOADING=1 with MONOTONIC_USEC in one message, not older than the signal; then READY=1.
    config = tmp_path / "tidegate.toml"
    config.write_text(QUICK + gate("quay", "."))
    with (
        manager_in(tmp_path) as manager,
        daemon(tmp_path, environment={"NOTIFY_SOCKET": str(tmp_path / "notify")}) as at_work,
    ):
        assert heard(manager)[0] == "READY=1"
        for text, status in (
            (QUICK + gate("quay", ".") + gate("vendor", "v"), "STATUS=2 gates open"),
            (
                QUICK + "[[gate]]\nnam = 1\n",
                "STATUS=2 gates open; the configuration has a fault, the last good one is in force",
            ),
            (QUICK + gate("vendor", "v"), "STATUS=1 gate open"),
            (QUICK + gate("vendor", "v"), "STATUS=1 gate open"),
        ):
            at_work.process.send_signal(signal.SIGSTOP)  # so that it finds the edit by the signal, not by its scan
            config.write_text(text)
            asked = time.clock_gettime_ns(time.CLOCK_MONOTONIC) // 1000
            at_work.hang_up()
            at_work.process.send_signal(signal.SIGCONT)
            reloading, stamp = heard(manager)
            assert reloading == "RELOADING=1"
            key, _, value = stamp.partition("=")
            assert key == "MONOTONIC_USEC"
            assert asked <= int(value) <= time.clock_gettime_ns(time.CLOCK_MONOTONIC) // 1000
            assert heard(manager) == ["READY=1", status]
        assert at_work.stop() == 0


def test_gates_come_and_go_in_the_real_daemon(tmp_path: Path) -> None:
    config = tmp_path / "tidegate.toml"
    config.write_text(QUICK + gate("quay", "q"))
    with daemon(tmp_path) as at_work:
        comes(lambda: at_work.said("the gate is open"))
        config.write_text(QUICK + gate("quay", "q") + gate("vendor", "v"))
        comes(lambda: len(at_work.said("the gate is open")) == 2)
        (tmp_path / "v/inbox/crate").mkdir()
        (tmp_path / "v/inbox/crate/crate.obj").write_text("no mesh at all\n")
        comes(lambda: list((tmp_path / "v/aside").glob("crate*")) + list((tmp_path / "v/returned").glob("crate*")))
        assert at_work.status()["vendor"]["served_by"] == at_work.process.pid
        config.write_text(QUICK + gate("vendor", "v"))
        comes(lambda: at_work.said("the gate is closed"))
        (tmp_path / "q/inbox/crate").mkdir()
        (tmp_path / "q/inbox/crate/crate.obj").write_text("no mesh at all\n")
        config.write_text(QUICK + gate("vendor", "v", inbox="w/inbox"))
        comes(lambda: (tmp_path / "w/inbox").is_dir())
        (tmp_path / "w/inbox/float.obj").write_text("no mesh at all\n")
        comes(lambda: list((tmp_path / "v/aside").glob("float*")) + list((tmp_path / "v/returned").glob("float*")))
        assert (tmp_path / "q/inbox/crate/crate.obj").exists()
        assert at_work.stop() == 0
        assert all({"time", "level", "message"} <= set(line) for line in at_work.lines())


@pytest.mark.parametrize("to_group", [False, True])
def test_told_to_stop_again_and_again_it_still_ends_in_order(tmp_path: Path, to_group: bool) -> None:
    # A manager tells every process of the group; people press Ctrl-C more than once.
    (tmp_path / "tidegate.toml").write_text(QUICK + gate("quay", "."))
    with daemon(tmp_path, start_new_session=True) as at_work:
        comes(lambda: at_work.said("the gate is open"))
        for number in range(60):
            (tmp_path / f"inbox/crate{number}").mkdir()
            (tmp_path / f"inbox/crate{number}/crate.obj").write_text("v 0 0 0\n" * 5000 + "f 1 2 3\n" * 5000)
        comes(lambda: len(at_work.said("claimed")) > 3)
        at_work.process.send_signal(signal.SIGTERM)
        while at_work.process.poll() is None:
            with contextlib.suppress(ProcessLookupError):
                (os.killpg if to_group else os.kill)(at_work.process.pid, signal.SIGTERM)
            time.sleep(0.02)
        # The very last one may meet the interpreter on its way out, when all is closed.
        assert at_work.process.returncode in (0, -signal.SIGTERM)
        said = at_work.lines()
        assert not [line for line in said if "worker" in str(line.get("what"))], "no worker was ended by the signal"
    left = {path.name for path in (tmp_path / "inbox").iterdir()}
    out = [path for tree in ("returned", "aside", "delivery") for path in (tmp_path / tree).rglob("crate.obj")]
    assert len(left) + len(out) == 60
    assert left, "it was stopped in the middle"
    assert not list((tmp_path / "work/tickets").iterdir()) and not list((tmp_path / "work/claimed").iterdir())
