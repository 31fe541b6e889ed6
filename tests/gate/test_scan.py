"""What a look at the inbox sees, and what it must not follow."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from tidegate.errors import TransientFault
from tidegate.gate.scan import look
from tidegate.gate.settings import GateRules


def test_folders_loose_files_partial_names_and_odd_things(tmp_path: Path) -> None:
    for name in (
        "crate/crate.obj",
        "crate/maps/a.png",
        "crate/b.png.part",
        "loose.obj",
        "late.tmp",
        "Thumbs.db",
        "empty/x/.DS_Store",
    ):
        path = tmp_path / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(b"12345")
    (tmp_path / "crate/out").symlink_to("/etc")
    (tmp_path / "passwd").symlink_to("/etc/passwd")
    os.mkfifo(tmp_path / "crate/pipe")
    seen = look(tmp_path, GateRules())
    assert {name: [file.path for file in files] for name, files in seen.folders.items()} == {
        "crate": ["crate/crate.obj", "crate/maps/a.png"]
    }
    assert [file.path for file in seen.loose] == ["loose.obj"]
    assert seen.partial == ("crate/b.png.part", "late.tmp")
    assert seen.odd == ("crate/out", "crate/pipe", "passwd")
    assert seen.loose[0].bytes == 5


def test_a_link_loop_ends(tmp_path: Path) -> None:
    (tmp_path / "drop").mkdir()
    (tmp_path / "drop/again").symlink_to(tmp_path / "drop")
    (tmp_path / "whole").symlink_to(tmp_path)
    seen = look(tmp_path, GateRules())
    assert (seen.folders, seen.loose, seen.odd) == ({}, (), ("drop/again", "whole"))


def test_names_that_are_not_utf8_survive(tmp_path: Path) -> None:
    raw = os.fsencode(tmp_path) + b"/caf\xe9.obj"
    Path(os.fsdecode(raw)).write_bytes(b"x")
    assert os.fsencode(look(tmp_path, GateRules()).loose[0].path) == b"caf\xe9.obj"


def test_a_vanished_inbox_heals(tmp_path: Path) -> None:
    with pytest.raises(TransientFault):
        look(tmp_path / "gone", GateRules())
