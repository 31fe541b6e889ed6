"""What wakes the loop, what the service manager is told, and what the log writes."""

from __future__ import annotations

import errno
import io
import json
import os
import socket
import warnings
from datetime import UTC, datetime
from multiprocessing import connection
from pathlib import Path
from typing import Any

import pytest

from tidegate.cli.main import exit_code
from tidegate.daemon.log import Log
from tidegate.daemon.notify import Notify
from tidegate.daemon.wake import PipeWake, Watch, file_system_of, has_native_events
from tidegate.errors import ConfigurationFault, PermanentFault

MOUNTS = """/dev/sda1 / ext4 rw 0 0
server:/props /mnt/props nfs4 rw 0 0
//nas/in /mnt/in\\040box cifs rw 0 0
tmpfs /mnt/props/fast tmpfs rw 0 0
/dev/sdb1 /mnt/prop ext4 rw 0 0
"""


@pytest.mark.parametrize(
    ("path", "kind", "native"),
    [
        ("/home/a", "ext4", True),
        ("/mnt/props", "nfs4", False),
        ("/mnt/props/inbox", "nfs4", False),
        ("/mnt/props/fast/x", "tmpfs", True),
        ("/mnt/in box/x", "cifs", False),
        ("/mnt/propsy", "ext4", True),
    ],
)
def test_network_folders_are_polled(path: str, kind: str, native: bool) -> None:
    assert file_system_of(Path(path), MOUNTS) == kind
    assert has_native_events(Path(path), MOUNTS) is native


def test_many_pokes_are_one_and_none_is_lost() -> None:
    wake = PipeWake()
    assert wake.wait(0.0, ()) is False
    for _ in range(100_000):
        wake.poke()
    assert wake.wait(0.0, ()) is True
    assert wake.wait(0.0, ()) is False
    wake.poke(look=False)
    assert wake.wait(5.0, ()) is False, "woken, but not for a look"
    wake.poke(look=False)
    wake.poke()
    assert wake.wait(0.0, ()) is True
    wake.close()
    wake.poke()


@pytest.mark.parametrize("look", [True, False])
def test_a_poke_while_the_pokes_are_read_silences_no_later_one(look: bool) -> None:
    wake = PipeWake()

    class PokedAtEveryStep:
        """The reading end, with somebody poking just before each step of the reading."""

        def __init__(self, real: Any) -> None:
            self.real, self.pokes = real, 3

        def fileno(self) -> int:
            return int(self.real.fileno())

        def poll(self) -> bool:
            if self.pokes:
                self.pokes -= 1
                wake.poke(look=look)
            return bool(self.real.poll())

        def recv_bytes(self) -> bytes:
            return bytes(self.real.recv_bytes())

    wake._out = PokedAtEveryStep(wake._out)
    wake.poke(look=look)
    assert wake.wait(0.0, ()) is look
    wake.wait(0.0, ())  # whatever was left over
    wake.poke(look=look)
    assert connection.wait([wake._out], 0.0) == [wake._out]
    assert wake.wait(0.0, ()) is look


def test_a_file_that_comes_wakes_us(tmp_path: Path) -> None:
    wake = PipeWake()
    watch = Watch(wake)
    assert watch.follow(tmp_path) == ""
    (tmp_path / "deep").mkdir()
    (tmp_path / "crate.obj").write_bytes(b"x")
    assert wake.wait(30.0, ()) is True
    watch.close()
    wake.close()


def test_a_folder_that_is_not_there_is_left_to_the_interval(tmp_path: Path) -> None:
    wake = PipeWake()
    watch = Watch(wake)
    assert "No such file" in watch.follow(tmp_path / "gone")
    watch.close()
    wake.close()


def test_a_folder_that_was_forgotten_wakes_nobody_and_one_that_came_back_does(tmp_path: Path) -> None:
    wake = PipeWake()
    watch = Watch(wake)
    inbox, other = tmp_path / "inbox", tmp_path / "other"
    for folder in (inbox, other):
        folder.mkdir()
        assert watch.follow(folder) == ""
    watch.forget(other)
    (other / "crate.obj").write_bytes(b"x")
    assert wake.wait(0.5, ()) is False
    inbox.rmdir()
    assert wake.wait(30.0, ()) is True
    inbox.mkdir()
    assert watch.follow(inbox) == ""
    wake.wait(0.3, ())
    (inbox / "crate.obj").write_bytes(b"x")
    assert wake.wait(30.0, ()) is True
    watch.forget(tmp_path / "never followed")
    watch.close()
    wake.close()


@pytest.mark.parametrize("abstract", [False, True])
def test_states_reach_the_manager_as_one_datagram(tmp_path: Path, abstract: bool) -> None:
    # sd_notify(3): newline-separated assignments in one datagram; a leading @ is an abstract socket.
    name = f"@tidegate-{os.getpid()}" if abstract else str(tmp_path / "notify")
    with socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM) as manager:
        manager.bind("\0" + name[1:] if abstract else name)
        notify = Notify({"NOTIFY_SOCKET": name, "WATCHDOG_USEC": "3000000"}, pid=7)
        notify.ready("2 gates\nopen")
        notify.alive()
        notify.status("busy")
        notify.reloading(5)
        notify.stopping()
        told = [manager.recv(4096) for _ in range(5)]
    assert told == [
        b"READY=1\nSTATUS=2 gates open",
        b"WATCHDOG=1",
        b"STATUS=busy",
        b"RELOADING=1\nMONOTONIC_USEC=5",
        b"STOPPING=1",
    ]


@pytest.mark.parametrize(
    ("environment", "seconds"),
    [
        ({}, 0.0),
        ({"WATCHDOG_USEC": "2000000"}, 2.0),
        ({"WATCHDOG_USEC": "2000000", "WATCHDOG_PID": "7"}, 2.0),
        ({"WATCHDOG_USEC": "2000000", "WATCHDOG_PID": "8"}, 0.0),
        ({"WATCHDOG_USEC": "x"}, 0.0),
    ],
)
def test_the_watchdog_is_fed_only_when_it_is_ours(environment: dict[str, str], seconds: float) -> None:
    # sd_watchdog_enabled(3): WATCHDOG_PID unset, or equal to our process.
    assert Notify(environment, pid=7).watchdog_seconds == seconds


def test_no_manager_no_words(tmp_path: Path) -> None:
    Notify({}).ready()
    Notify({"NOTIFY_SOCKET": str(tmp_path / "gone")}).ready()
    Notify({"NOTIFY_SOCKET": "vsock:2:1"}).ready()


def test_a_log_line_is_one_line_whatever_the_names() -> None:
    for form in ("text", "json"):
        out = io.StringIO()
        log = Log(form, out=out, wall=lambda: datetime(2026, 11, 25, 12, 0, 0, tzinfo=UTC))
        log("info", "claimed", drop=os.fsdecode(b"cr\xe4te\n\x1b[2J"), files=2)
        log("debug", "not written")
        line = out.getvalue()
        assert line.count("\n") == 1 and "\x1b" not in line
        if form == "json":
            told = json.loads(line)
            assert (told["time"], told["level"], told["message"]) == ("2026-11-25T12:00:00.000000Z", "info", "claimed")
            assert (told["drop"], told["files"]) == ("cr\\xe4te\\n\\x1b[2J", 2)


def test_a_fault_tells_all_it_carries() -> None:
    out = io.StringIO()
    fault = PermanentFault("no free name", path="p", expected="e", came="c", done="d", help="h")
    Log("json", out=out).fault("error", "a drop goes aside", fault, gate="harbour")
    told = json.loads(out.getvalue())
    assert {key: told[key] for key in ("gate", "what", "path", "expected", "came", "done", "help")} == {
        "gate": "harbour",
        "what": "no free name",
        "path": "p",
        "expected": "e",
        "came": "c",
        "done": "d",
        "help": "h",
    }


def test_a_log_that_cannot_be_written_stops_nothing_and_says_so_once_it_can() -> None:
    class Filling(io.StringIO):
        full = False

        def flush(self) -> None:
            if self.full:
                raise OSError(errno.ENOSPC, "No space left on device")

    out = Filling()
    log = Log("json", out=out)
    log("info", "before")
    out.full = True
    log("info", "while full")
    log("info", "while full")
    out.full = False
    log("info", "after")
    log("info", "long after")
    lines = [json.loads(line) for line in out.getvalue().splitlines()]
    told = [line for line in lines if line["level"] == "warning"]
    assert [(line["message"], line["lines"]) for line in told] == [("the log could not be written for a while", 2)]
    assert lines[-1]["message"] == "long after"


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="no device that is always full")
def test_a_really_full_log_stops_nothing() -> None:
    out = Path("/dev/full").open("w", encoding="utf-8")  # noqa: SIM115  its closing fails as well
    try:
        Log(out=out)("error", "told to nobody")
    finally:
        with pytest.raises(OSError, match="No space left"):  # it was as full as the test says
            out.close()


def test_what_a_library_warns_of_is_a_line_as_well(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(warnings, "showwarning", warnings.showwarning)  # put back afterwards
    out = io.StringIO()
    Log("json", out=out).hear_warnings()
    warnings.showwarning("two\nlines", UserWarning, "lib.py", 7)
    told = json.loads(out.getvalue())
    assert (told["level"], told["what"], told["kind"], told["at"]) == (
        "warning",
        "two\\nlines",
        "UserWarning",
        "lib.py:7",
    )


def test_a_daemon_that_cannot_start_says_so_in_the_form_asked_for(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(warnings, "showwarning", warnings.showwarning)
    (tmp_path / "tidegate.toml").write_text("[[gate]]\nnam = 1\n")
    assert exit_code(["watch", "--log", "json", "--config", str(tmp_path / "tidegate.toml")]) == 2
    told = json.loads(capsys.readouterr().err)
    assert (told["level"], told["message"], told["path"]) == ("error", "tidegate ends", str(tmp_path / "tidegate.toml"))
    assert exit_code(["watch", "--config", str(tmp_path / "tidegate.toml")]) == 2
    assert capsys.readouterr().err.startswith("tidegate: ")


def test_a_fault_of_a_file_of_ours_names_its_line() -> None:
    out = io.StringIO()
    fault = ConfigurationFault("unknown key `quiet`", path="tidegate.toml", line=32)
    Log("json", out=out).fault("error", "the configuration has a fault", fault)
    told = json.loads(out.getvalue())
    assert (told["path"], told["line"]) == ("tidegate.toml", 32)
