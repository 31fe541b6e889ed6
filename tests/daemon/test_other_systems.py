"""Branches for systems that this one is not: what a missing call, flag or signal leads to."""

from __future__ import annotations

import errno
import os
import signal
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest

from tests.daemon.stepped import World, loop, put, setup
from tidegate.daemon import worker_main, workers
from tidegate.gate import durable, proof
from tidegate.gate.scan import look
from tidegate.gate.settings import GateRules
from tidegate.load import references
from tidegate.measure import held_memory


@pytest.fixture
def flags_anew() -> Any:
    """`open_flags` remembers: what it worked out here must not outlive the test."""
    proof.open_flags.cache_clear()
    yield
    proof.open_flags.cache_clear()


def test_without_o_nofollow_a_link_is_refused_by_looking(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, flags_anew: None
) -> None:
    (tmp_path / "file").write_bytes(b"x")
    (tmp_path / "link").symlink_to(tmp_path / "file")
    for name in ("O_NOFOLLOW", "O_CLOEXEC", "O_NONBLOCK"):
        monkeypatch.delattr(os, name, raising=False)
    with pytest.raises(OSError) as caught:
        proof.open_regular(tmp_path / "link")
    assert caught.value.errno == errno.ELOOP
    assert proof.proof_of(tmp_path / "file").bytes == 1


def test_binary_mode_is_asked_for_where_there_is_a_text_mode(monkeypatch: pytest.MonkeyPatch, flags_anew: None) -> None:
    # Windows: _O_BINARY 0x8000, _O_NOINHERIT 0x80 (fcntl.h of its C library).
    monkeypatch.setattr(os, "O_BINARY", 0x8000, raising=False)
    monkeypatch.setattr(os, "O_NOINHERIT", 0x80, raising=False)
    assert proof.open_flags("O_RDONLY") & 0x8080 == 0x8080


def test_without_posix_fadvise_the_proof_is_the_same(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    (tmp_path / "file").write_bytes(b"crate")
    wanted = proof.proof_of(tmp_path / "file")
    monkeypatch.delattr(os, "posix_fadvise", raising=False)
    assert proof.proof_of(tmp_path / "file", from_disk=True) == wanted


def test_on_windows_a_move_is_a_rename_and_no_folder_is_synced(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    (tmp_path / "a").write_bytes(b"a")
    moved: list[tuple[str, str]] = []
    real = os.rename

    def rename(source: Any, target: Any, **more: Any) -> None:
        # MoveFile without MOVEFILE_REPLACE_EXISTING refuses a taken name; Python raises FileExistsError.
        moved.append((Path(source).name, Path(target).name))
        if os.path.lexists(target):
            raise FileExistsError(errno.EEXIST, "File exists", os.fspath(source), None, os.fspath(target))
        real(source, target)

    monkeypatch.setattr(os, "rename", rename)
    monkeypatch.setattr(durable, "os", _Posing(os))
    (tmp_path / "c").write_bytes(b"c")
    durable.move_new(tmp_path / "a", tmp_path / "b")
    with pytest.raises(durable.NameTaken):
        durable.move_new(tmp_path / "c", tmp_path / "b")
    durable.sync_folder(tmp_path / "no such folder")  # not even opened
    assert moved == [("a", "b"), ("c", "b")]
    assert (tmp_path / "b").read_bytes() == b"a" and (tmp_path / "c").exists()


def test_on_windows_a_look_asks_each_file_itself(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    # What Windows tells with a listing has inode 0: two looks would take any file for any other.
    (tmp_path / "crate.obj").write_bytes(b"x")
    asked: list[str] = []
    real = Path.lstat

    def lstat(self: Path) -> os.stat_result:
        asked.append(self.name)
        return real(self)

    monkeypatch.setattr(Path, "lstat", lstat)
    monkeypatch.setattr("tidegate.gate.scan.os", _Posing(os))
    (seen,) = look(tmp_path, GateRules()).loose
    assert asked == ["crate.obj"]
    assert seen.inode == (tmp_path / "crate.obj").stat().st_ino


class _Posing:
    """The module `os`, under the name of another system."""

    name = "nt"

    def __init__(self, real: Any) -> None:
        self._real = real

    def __getattr__(self, name: str) -> Any:
        return getattr(self._real, name)


def test_without_limits_a_worker_still_examines(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(worker_main, "resource", None)
    worker_main._allow(1 << 20)
    before = {number: signal.getsignal(number) for number in (signal.SIGINT, signal.SIGTERM, signal.SIGHUP)}
    try:
        worker_main._confine(parent=-1)  # with limits it would take its parent for dead and end
        assert signal.getsignal(signal.SIGTERM) == signal.SIG_IGN
    finally:
        for number, handler in before.items():
            signal.signal(number, handler)


def test_without_signal_masks_workers_start_as_they_are(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.delattr(signal, "pthread_sigmask")
    with workers._signals_held_back():
        pass


def test_without_sighup_and_with_sigbreak_the_loop_stops_by_that(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    # Windows: Ctrl-Break and the end of a console session come as SIGBREAK (21). USR1 stands in for its number here.
    monkeypatch.delattr(signal, "SIGHUP")
    monkeypatch.setattr(signal, "SIGBREAK", signal.SIGUSR1, raising=False)
    world = World()
    gate = setup(tmp_path)
    put(gate.paths.inbox / "crate/crate.obj")
    made = loop(world, gate)
    world.at(30.0, lambda: os.kill(os.getpid(), signal.SIGUSR1))
    before = signal.getsignal(signal.SIGUSR1)
    made.run()
    assert made.stopped_by == signal.SIGUSR1
    assert signal.getsignal(signal.SIGUSR1) == before
    assert (gate.paths.delivery / "quay/crate/v001/crate.obj").exists()


def test_memory_is_held_on_linux_alone(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(sys, "platform", "win32")
    assert held_memory.hold_memory() is False


def test_with_an_older_c_library_moves_replace_nothing_either(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(durable, "_renameat2", lambda: None)
    for name in ("a", "c"):
        (tmp_path / name).write_bytes(name.encode())
    durable.move_new(tmp_path / "a", tmp_path / "b")
    with pytest.raises(durable.NameTaken):
        durable.move_new(tmp_path / "c", tmp_path / "b")
    assert (tmp_path / "b").read_bytes() == b"a" and (tmp_path / "c").exists() and not (tmp_path / "a").exists()


@pytest.mark.parametrize("target", ["C:\\secret\\x.png", "\\\\server\\share\\x.png", "..\\x.png"])
def test_on_windows_links_out_of_the_drop_are_told_by_their_spelling(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, target: str
) -> None:
    drop = tmp_path / "drop"
    drop.mkdir()
    (drop / "map.png").symlink_to(target)
    monkeypatch.setattr(references, "os", _Posing(os))
    assert references._Tree(drop, None)._follow("map.png") == (references._OUTSIDE, "")


LOCK = """
import contextlib, sys, types
from pathlib import Path
from tidegate.gate import faults, proof
held = []
fake = types.ModuleType("msvcrt")
fake.LK_NBLCK, fake.locking = 2, lambda descriptor, kind, count: held.append((kind, count))
sys.modules["msvcrt"], sys.platform = fake, "win32"
from tidegate.gate import lock
with lock.held(Path(sys.argv[1])):
    print(held, "tidegate.gate.lock_posix" in sys.modules, Path(sys.argv[1]).read_bytes()[:1])
"""


def test_on_windows_the_lock_is_that_of_its_c_library(tmp_path: Path) -> None:
    told = subprocess.run(
        [sys.executable, "-c", LOCK, str(tmp_path / "lock")], capture_output=True, text=True, check=True
    )
    assert told.stdout == "[(2, 1)] False b'\\x00'\n"
