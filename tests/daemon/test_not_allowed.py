"""The whole daemon as an account without rights, and what happens where it is not allowed in: real processes, real modes.

One gate suffers, the other goes on; what was taken away is given back, and then everything comes to its place.
"""

from __future__ import annotations

import os
import shutil
import sys
import tempfile
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from tests.daemon.open_python import Python, linked, this_python
from tests.daemon.real import QUICK, Daemon, comes, daemon, gate
from tidegate.gate.retry import length
from tidegate.gate.settings import GateRules

NOBODY = 65534
AS_NOBODY = ("setpriv", f"--reuid={NOBODY}", f"--regid={NOBODY}", "--clear-groups")
MESH = "v 0 0 0\nv 1 0 0\nv 0 1 0\nf 1 2 3\n"


@pytest.fixture(scope="module")
def python() -> Iterator[Python]:
    """An interpreter that NOBODY may run: the one here, else the same one under a folder open to all."""
    if sys.platform == "win32" or os.geteuid() != 0:
        pytest.skip("only root can run the daemon as another account")
    if not shutil.which("setpriv"):
        pytest.skip("setpriv is not installed")
    if (ours := this_python()).runs(AS_NOBODY):
        yield ours
        return
    base = Path(tempfile.mkdtemp(prefix="tidegate-python-"))
    try:
        base.chmod(0o755)
        made = linked(base)
        if not made.runs(AS_NOBODY):
            pytest.skip(f"neither {sys.executable} nor its copy {made.path} may be run by an account without rights")
        yield made
    finally:
        shutil.rmtree(base)


@pytest.fixture(scope="module")
def at_work(python: Python) -> Iterator[Daemon]:
    base = Path(tempfile.mkdtemp(prefix="tidegate-nobody-"))
    try:
        (base / "tidegate.toml").write_text(QUICK + gate("quay", "q") + gate("vendor", "v"))
        give(base)
        with daemon(base, AS_NOBODY, python.environment, python.path, cwd="/") as made:
            comes(lambda: len(made.said("the gate is open")) == 2)
            yield made
            assert made.stop() == 0
    finally:
        shutil.rmtree(base)


def give(path: Path, owner: int = NOBODY) -> None:
    for each in (path, *path.rglob("*")):
        os.chown(each, owner, owner)


def drop(at_work: Daemon, where: str, name: str, files: dict[str, bytes] | None = None, owner: int = NOBODY) -> Path:
    """A folder with files, put together elsewhere and moved in whole."""
    made = at_work.base / name
    made.mkdir()
    for file, data in (files or {f"{name}.obj": MESH.encode()}).items():
        (made / file).write_bytes(data)
    give(made, owner)
    return made.rename(at_work.base / where / "inbox" / name)


def mode(path: Path, bits: int) -> None:
    """For a folder and all folders in it."""
    for each in [path, *(path.rglob("*") if path.is_dir() else ())]:
        if each.is_dir() or each == path:
            each.chmod(bits)


def in_place(at_work: Daemon, where: str, name: str) -> list[Path]:
    return [
        path for tree in ("returned", "aside", "delivery") for path in (at_work.base / where / tree).glob(f"{name}*")
    ]


def goes_on(at_work: Daemon, name: str) -> None:
    drop(at_work, "v", name)
    comes(lambda: in_place(at_work, "v", name))


def held_up(at_work: Daemon, what: str) -> dict[str, Any] | None:
    return next((row for row in at_work.status()["quay"]["held_up"] if row["what"].startswith(what)), None)


def told(at_work: Daemon, message: str, tries: int, **more: str) -> list[dict[str, Any]]:
    """The lines of the log about it, once there are that many."""

    def found() -> list[dict[str, Any]]:
        lines = [line for line in at_work.said(message) if all(line.get(key) == value for key, value in more.items())]
        return lines if len(lines) >= tries else []

    return list(comes(found))


def pauses_grow(lines: list[dict[str, Any]]) -> bool:
    # QUICK: 0.2 s, doubled up to 1 s.
    rules = GateRules(first_pause=0.2, longest_pause=1.0)
    return [(line["tries"], line["pause"]) for line in lines[:4]] == [
        (tries, pytest.approx(length(tries, rules), abs=0.001)) for tries in (1, 2, 3, 4)
    ]


TAKEN_AWAY = {
    "inbox": ("the inbox cannot be looked at", "could not list the inbox"),
    "returned": ("tried again later", "could not make a folder"),
    "work": ("a drop could not be claimed", "could not create a file"),
}


@pytest.mark.parametrize("folder", list(TAKEN_AWAY))
def test_a_folder_that_it_may_not_use(at_work: Daemon, folder: str) -> None:
    message, what = TAKEN_AWAY[folder]
    name, taken = f"crate_{folder}", at_work.base / "q" / folder
    drop(at_work, "q", name) if folder == "inbox" else None
    mode(taken, 0o000 if folder == "inbox" else 0o555)
    try:
        drop(at_work, "q", name) if folder != "inbox" else None
        lines = told(at_work, message, 4, what=what)
        assert pauses_grow(lines)
        assert "EACCES" in lines[0]["came"] and "permission" in lines[0]["help"]
        assert lines[0]["path"].startswith(str(taken))
        goes_on(at_work, f"float_{folder}")
        row = comes(lambda: held_up(at_work, "the inbox" if folder == "inbox" else name))
        assert what in row["reason"] and "Permission denied" in row["reason"]
        assert row["tries"] >= 1 and row["next_try"] and "permission" in row["heals"]
    finally:
        mode(taken, 0o755)
    comes(lambda: in_place(at_work, "q", name))
    comes(lambda: not at_work.status()["quay"]["held_up"])


def test_an_aside_folder_that_it_may_not_use(at_work: Daemon) -> None:
    # A file that is no archive cannot be judged: it goes aside with the reason, as soon as that may be written.
    taken = at_work.base / "q/aside"
    mode(taken, 0o555)
    try:
        archive = at_work.base / "broken.zip"
        archive.write_bytes(b"PK\x05\x06" + b"\0" * 18 + b"no archive")
        give(archive)
        archive.rename(at_work.base / "q/inbox/broken.zip")
        assert pauses_grow(told(at_work, "a drop could not be claimed", 4, drop="broken"))
        goes_on(at_work, "float_aside")
        assert comes(lambda: held_up(at_work, "broken"))["next_try"]
        assert not in_place(at_work, "q", "broken")
    finally:
        mode(taken, 0o755)
    (aside,) = comes(lambda: in_place(at_work, "q", "broken"))
    assert aside.parent == taken
    comes(lambda: [row for row in at_work.status()["quay"]["aside"] if row["path"] == str(aside) and row["reason"]])


def test_a_tree_that_goes_and_comes_back(at_work: Daemon) -> None:
    tree, away = at_work.base / "q/returned", at_work.base / "away"
    tree.rename(away)
    try:
        drop(at_work, "q", "crate_gone")
        lines = told(at_work, "tried again later", 4, what="a tree of the gate is gone")
        assert pauses_grow(lines) and "mount it again" in lines[0]["help"]
        goes_on(at_work, "float_gone")
        assert comes(lambda: held_up(at_work, "crate_gone"))["next_try"]
        assert not tree.exists(), "nothing was written where the tree is not mounted"
    finally:
        away.rename(tree)
    comes(lambda: in_place(at_work, "q", "crate_gone"))


def test_one_file_of_a_drop_that_it_may_not_read(at_work: Daemon) -> None:
    made = drop(at_work, "q", "crate_file", {"crate_file.obj": MESH.encode(), "crate_file_base_color.png": b"x" * 40})
    os.chown(made / "crate_file_base_color.png", 0, 0)
    (made / "crate_file_base_color.png").chmod(0)
    goes_on(at_work, "float_file")
    row = comes(lambda: (found := held_up(at_work, "crate_file")) and "cannot be read" in found["reason"] and found)
    assert "crate_file_base_color.png" in row["reason"]
    assert len(list(made.iterdir())) == 2, "it waits whole"
    (made / "crate_file_base_color.png").chmod(0o644)
    comes(lambda: in_place(at_work, "q", "crate_file"))


def test_a_drop_of_another_account_that_it_may_not_move(at_work: Daemon) -> None:
    made = drop(at_work, "q", "crate_owned", owner=0)
    lines = told(at_work, "a drop could not be claimed", 4, drop="crate_owned")
    assert pauses_grow(lines) and lines[0]["what"] == "could not move"
    goes_on(at_work, "float_owned")
    assert comes(lambda: held_up(at_work, "crate_owned"))["next_try"]
    assert (made / "crate_owned.obj").read_text() == MESH
    give(made)
    comes(lambda: in_place(at_work, "q", "crate_owned"))


def test_it_never_was_more_than_that_account(at_work: Daemon) -> None:
    goes_on(at_work, "float_last")
    status = Path(f"/proc/{at_work.process.pid}/status").read_text()
    assert f"Uid:\t{NOBODY}\t{NOBODY}\t{NOBODY}\t{NOBODY}" in status
    files = [path for path in (at_work.base / "v").rglob("*") if path.is_file()]
    assert files and all(path.stat().st_uid == NOBODY for path in files)
