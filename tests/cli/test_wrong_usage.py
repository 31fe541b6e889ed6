"""Words of a command that do not fit: told in our form, with what was expected and the nearest right word."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.support.command_line import tidegate
from tidegate.cli.main import COMMANDS

CASES: dict[str, tuple[tuple[str, ...], str]] = {
    "option": (("why", "--fromat", "json"), "  done: nothing was begun\n  help: did you mean `--format`?"),
    "option like no other": (("watch", "--zzz"), "`watch` has no option `--zzz`\n"),
    "option of the group": (("--versoin",), "did you mean `--version`?"),
    "no path": (("check",), "`check` needs one PATH or more\n  came: none\n"),
    "no folder": (("new",), "`new` needs one DIR\n"),
    "one word too many": (("why", "a", "b"), "`why` does not know what to do with `b`\n  expected: one CHECK\n"),
    "a word where none belongs": (
        ("watch", "x"),
        "`watch` does not know what to do with `x`\n  expected: options only\n",
    ),
    "option without its value": (("check", "x", "--set"), "`--set` is given no value\n  expected: --set NAME\n"),
    "value of a switch": (("watch", "--once=3"), "`--once` is a switch and takes no value\n"),
    "choice": (("check", "x", "--format", "jsn"), "came: jsn\n  done: nothing was begun\n  help: did you mean `json`?"),
    "no number": (
        ("sheet", "x", "--size", "big"),
        "`--size` does not take `big`\n  expected: a whole number from 16 to 16384\n",
    ),
    "number too small": (("sheet", "x", "--size", "5"), "expected: a whole number from 16 to 16384\n  came: 5\n"),
    "open range": (("history", "--last", "0"), "expected: a whole number of at least 1\n"),
    "our own word": (("sheet", "x", "--ground", "blue"), "`--ground`: `blue` is no color; write six digits"),
}


@pytest.mark.parametrize("case", CASES)
def test_it_is_told_in_our_form(case: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    arguments, says = CASES[case]
    ran = tidegate(*arguments)
    assert (ran.code, ran.out) == (2, "")
    assert says in ran.err
    assert ran.err.startswith("tidegate: ")
    for foreign in ("Error", "Invalid", "No such", "Missing", "argument", "Usage"):
        assert foreign not in ran.err


@pytest.mark.parametrize("command", COMMANDS)
def test_a_wrong_option_names_the_help_of_its_own_command(command: str) -> None:
    assert f"`tidegate {command} --help`" in tidegate(command, "--zzz").err


def test_a_folder_is_no_configuration_and_the_one_in_it_is_proposed(tmp_path: Path) -> None:
    ran = tidegate("status", "--config", tmp_path)
    assert ran.code == 2 and f"{tmp_path}: is a folder" in ran.err and "tidegate new" in ran.err
    (tmp_path / "tidegate.toml").write_text("")
    assert f"did you mean `{tmp_path / 'tidegate.toml'}`?" in tidegate("status", "--config", tmp_path).err


def test_a_mistyped_configuration_gets_the_nearest_file(tmp_path: Path) -> None:
    (tmp_path / "tidegate.toml").write_text("")
    ran = tidegate("status", "--config", tmp_path / "tidgate.toml")
    assert ran.code == 2 and f"did you mean `{tmp_path / 'tidegate.toml'}`?" in ran.err
