"""Names out of a drop are printed so that they cannot drive a terminal, forge a line or turn the reading order."""

from __future__ import annotations

import json
from collections.abc import Mapping
from pathlib import Path

import pytest

from tests.cli.one_gate import CONFIG
from tests.gate.hostile_case import crate, good_map
from tests.support.command_line import tidegate
from tidegate.errors import UnreadableFile
from tidegate.model.printable import printable, printable_lines

FORGED = "2031-01-01 error forged"
# ECMA-48: OSC 0 sets a window's title, SGR 31 writes red; U+009B is CSI in one sign. U+202E turns the reading order.
TITLE = "\x1b]0;owned\x07"
ODD = f"a{TITLE}\x1b[31m\u202e\x9b2J\n{FORGED}"
SEEN = "a\\x1b]0;owned\\x07\\x1b[31m\\u202e\\x9b2J\\n" + FORGED


@pytest.mark.parametrize(
    ("text", "wanted"),
    [
        ("Pollerkiste 7", "Pollerkiste 7"),
        ("船", "船"),
        ("a\tb", "a\\tb"),
        ("\udcff\udcfe", "\\xff\\xfe"),  # two bytes that were no UTF-8 (PEP 383)
        ("\ud800", "\\ud800"),  # a lone surrogate that stands for no byte: JSON may hold it
        ("\u202etxt", "\\u202etxt"),
        (ODD, SEEN),
    ],
)
def test_what_is_not_seen_stands_as_an_escape(text: str, wanted: str) -> None:
    assert printable(text) == wanted
    assert printable(text).isprintable()


def test_lines_of_our_own_stay_lines() -> None:
    assert printable_lines("one\n  two\x07") == "one\n  two\\x07"


def lay(folder: Path) -> None:
    """A good prop whose names are all bad: of its folder, a file, the mesh, the node and the material."""
    folder.mkdir(parents=True)
    build = crate()
    for kind in ("meshes", "nodes", "materials"):
        build.json[kind][0]["name"] = f"{kind}{ODD}\ud800"
    (folder / "furniture_crate.glb").write_bytes(build.glb())
    (folder / "crate_base_color.png").write_bytes(good_map())
    (folder / f"{ODD}.txt").write_bytes(b"x")


def held(out: str) -> None:
    bad = sorted({sign for sign in out if not sign.isprintable() and sign != "\n"})
    assert bad == [], out
    assert not any(line.strip().startswith(FORGED) for line in out.splitlines()), out


def test_a_check(tmp_path: Path) -> None:
    lay(tmp_path / "drop")
    for options in ((), ("--concise",)):
        ran = tidegate("check", tmp_path / "drop", *options)
        held(ran.out)
        held(ran.err)
        assert "\\x1b]0;owned\\x07" in ran.out
    record = json.loads(tidegate("check", tmp_path / "drop", "--format", "json").out)
    assert record["props"][0]["facts"]["meshes"][0]["mesh"] == f"meshes{ODD}\ud800"  # a program gets the very name


def test_the_reports_on_the_disk(tmp_path: Path) -> None:
    lay(tmp_path / "drop")
    tidegate("check", tmp_path / "drop", "--report", tmp_path / "reports")
    for ending in ("txt", "html", "json"):
        held((tmp_path / f"reports/crate.tidegate.{ending}").read_text("utf-8"))


def test_a_gate_from_arrival_to_history(tmp_path: Path) -> None:
    (tmp_path / "tidegate.toml").write_text(CONFIG)
    lay(tmp_path / f"in/{ODD}")
    config = ("--config", str(tmp_path / "tidegate.toml"))
    commands: Mapping[str, tuple[str, ...]] = {
        "status": ("status",),
        "dry run": ("watch", "--once", "--dry-run"),
        "watch": ("watch", "--once", "--log-level", "debug"),
        "watch again": ("watch", "--once", "--log", "json", "--log-level", "debug"),
        "history": ("history",),
        "recover": ("recover", "--dry-run"),
    }
    for name, words in commands.items():
        if name == "watch again":
            lay(tmp_path / f"in/again {ODD}")
        ran = tidegate(*words, *config)
        held(ran.out)
        held(ran.err)
        if name in ("status", "dry run"):
            assert SEEN in ran.out


def test_an_error_about_a_file_of_such_a_name_keeps_its_lines(tmp_path: Path) -> None:
    (tmp_path / f"{ODD}.glb").write_bytes(b"")
    ran = tidegate("sheet", tmp_path / f"{ODD}.glb")
    assert ran.code != 0
    held(ran.err)
    told = str(UnreadableFile("cut off", path="a\nb.glb", came="3 bytes")).splitlines()
    assert told == ["a\\nb.glb: cut off", "  came: 3 bytes"]
