"""One daemon a gate; growing pauses."""

from __future__ import annotations

import errno
import importlib
import os
import subprocess
import sys
from pathlib import Path
from types import ModuleType

import pytest

from tidegate.errors import TransientFault
from tidegate.gate import lock_posix
from tidegate.gate.lock import held, holder
from tidegate.gate.retry import Pauses, length
from tidegate.gate.settings import GateRules

HOLD = """
import sys
from pathlib import Path
from tidegate.gate.lock import held
with held(Path(sys.argv[1])):
    print("held", flush=True)
    sys.stdin.read()
"""


def test_a_second_process_is_refused_until_the_first_is_killed(tmp_path: Path) -> None:
    lock = tmp_path / "work/lock"
    with subprocess.Popen(
        [sys.executable, "-c", HOLD, str(lock)], stdin=subprocess.PIPE, stdout=subprocess.PIPE
    ) as first:
        assert first.stdout is not None
        assert first.stdout.readline() == b"held\n"
        with pytest.raises(TransientFault) as caught, held(lock):
            pass
        assert str(first.pid) in caught.value.came
        assert holder(lock) == first.pid
        first.kill()
        first.wait()
        assert lock.read_text() == f"{first.pid}\n", "a number that is left there is no holder"
        assert holder(lock) is None
        with held(lock):
            assert holder(lock) == os.getpid()
        assert holder(lock) is None


def test_no_lock_file_no_holder(tmp_path: Path) -> None:
    assert holder(tmp_path / "lock") is None
    (tmp_path / "lock").write_text("no number")
    assert holder(tmp_path / "lock") is None


def test_without_a_list_of_locks_a_living_process_has_to_do(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(lock_posix, "LOCKS", tmp_path / "none")
    with held(tmp_path / "lock"):
        assert holder(tmp_path / "lock") == os.getpid()
    with subprocess.Popen([sys.executable, "-c", ""]) as gone:
        gone.wait()
    (tmp_path / "lock").write_text(f"{gone.pid}\n")
    assert holder(tmp_path / "lock") is None


def test_asking_for_the_holder_never_keeps_a_daemon_from_starting(tmp_path: Path) -> None:
    (tmp_path / "lock").write_text("1\n")
    descriptor = os.open(tmp_path / "lock", os.O_RDONLY)
    try:
        lock_posix.is_locked(descriptor, 1)
        with held(tmp_path / "lock"):
            assert holder(tmp_path / "lock") == os.getpid()
    finally:
        os.close(descriptor)


def test_a_lock_file_that_cannot_be_closed_in_the_end_ends_nothing_badly(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    real = os.close

    def failing(descriptor: int) -> None:
        real(descriptor)
        raise OSError(errno.EIO, "Input/output error")

    with held(tmp_path / "lock"):
        monkeypatch.setattr(os, "close", failing)
    monkeypatch.undo()
    assert holder(tmp_path / "lock") is None


class Windows(ModuleType):
    """`msvcrt` as documented: locks bytes from where the descriptor stands, OSError when another handle has them."""

    LK_NBLCK = 2

    def __init__(self) -> None:
        super().__init__("msvcrt")
        self.locked: dict[int, int] = {}

    def locking(self, descriptor: int, mode: int, count: int) -> None:
        assert (mode, count) == (self.LK_NBLCK, 1)
        assert os.lseek(descriptor, 0, os.SEEK_CUR) == 0
        if any(other != descriptor for other in self.locked):
            raise OSError(errno.EDEADLOCK, "Resource deadlock avoided")
        self.locked[descriptor] = 0


def test_the_windows_branch_locks_the_first_byte_and_reads_the_number_behind_it(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    fake, real = Windows(), os.read
    monkeypatch.setitem(sys.modules, "msvcrt", fake)
    windows = importlib.import_module("tidegate.gate.lock_windows")
    monkeypatch.setattr(windows, "_msvcrt", fake)
    first, second = (os.open(tmp_path / "lock", os.O_RDWR | os.O_CREAT) for _ in range(2))
    try:
        os.lseek(first, 5, os.SEEK_SET)
        assert windows.lock(first)
        assert not windows.lock(second)
        assert not windows.is_locked(second, 7), "nothing refuses the read here"

        def mandatory(descriptor: int, count: int) -> bytes:
            if fake.locked and descriptor not in fake.locked and os.lseek(descriptor, 0, os.SEEK_CUR) == 0:
                raise PermissionError(errno.EACCES, "Permission denied")
            return real(descriptor, count)

        monkeypatch.setattr(os, "read", mandatory)
        assert windows.is_locked(second, 7)
        os.ftruncate(first, windows.PID_AT)
        os.pwrite(first, b"4711\n", windows.PID_AT)
        os.lseek(second, windows.PID_AT, os.SEEK_SET)
        assert os.read(second, 32) == b"4711\n"
    finally:
        monkeypatch.setattr(os, "read", real)
        os.close(first)
        os.close(second)


def test_pauses_double_up_to_the_longest() -> None:
    rules = GateRules(first_pause=2.0, longest_pause=60.0)
    assert [length(tries, rules) for tries in (1, 2, 3, 5, 6, 7, 10_000)] == [2.0, 4.0, 8.0, 32.0, 60.0, 60.0, 60.0]
    pauses = Pauses(rules)
    assert pauses.due("t", 0.0)
    pauses.failed("t", "full", "make room", 0.0)
    assert not pauses.due("t", 1.9)
    assert pauses.due("t", 2.0)
    pauses.failed("t", "full", "make room", 2.0)
    assert (pauses.due("t", 5.9), pauses.due("t", 6.0)) == (False, True)
    assert pauses.next_due() == 6.0
    pauses.healed("t")
    assert pauses.due("t", 0.0) and pauses.all() == {}
