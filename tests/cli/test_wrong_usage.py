"""Words of a command that do not fit: told in our form, with what was expected and the nearest right word."""

from __future__ import annotations

import os
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


@pytest.mark.parametrize(
    ("arguments", "behind"),
    [
        (("new", ""), "new"),
        (("check", "x", "--report", ""), "--report"),
        (("check", "x", "--report="), "--report"),
        (("check", "x", "--set", ""), "--set"),
        (("status", "--config", ""), "--config"),
        (("why", ""), "why"),
        (("",), "tidegate"),
    ],
)
def test_an_empty_word_is_never_taken_for_one_not_given(
    arguments: tuple[str, ...], behind: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A script's variable that was never set would make a project here, or leave the reports unwritten, in silence."""
    monkeypatch.chdir(tmp_path)
    ran = tidegate(*arguments)
    assert (ran.code, ran.out) == (2, "")
    assert f"an empty word stands behind `{behind}`\n" in ran.err
    assert list(tmp_path.iterdir()) == []


def test_a_value_may_end_with_an_equals_sign(tmp_path: Path) -> None:
    (tmp_path / "a=").mkdir()
    assert tidegate("check", tmp_path / "a=").code == 4


@pytest.mark.parametrize("words", [("rules", "{}"), ("check", ".", "--set", "{}"), ("why", "--set", "{}")])
def test_a_folder_is_no_rule_set_and_those_in_it_are_named(words: tuple[str, ...], tmp_path: Path) -> None:
    (tmp_path / "crates.toml").write_text("", "utf-8")
    ran = tidegate(*(word.format(tmp_path) for word in words))
    assert ran.code == 2
    assert f"{tmp_path}: is a folder, not a rule set file\n  help: name one in it: `crates.toml`" in ran.err


def test_a_mistyped_rule_set_file_gets_the_nearest_one(tmp_path: Path) -> None:
    (tmp_path / "crates.toml").write_text("", "utf-8")
    ran = tidegate("rules", tmp_path / "crate.toml")
    assert ran.code == 2 and "there is no such rule set file\n  help: did you mean `crates.toml`?" in ran.err


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="needs a pipe in a folder")
@pytest.mark.parametrize("words", [("rules", "{}/a.toml"), ("status", "--config", "{}/a.toml")])
def test_a_pipe_is_never_opened(words: tuple[str, ...], tmp_path: Path) -> None:
    os.mkfifo(tmp_path / "a.toml")
    ran = tidegate(*(word.format(tmp_path) for word in words))
    assert ran.code == 2 and "a.toml: is no regular file and was not opened" in ran.err


def test_a_link_that_leads_nowhere_says_so(tmp_path: Path) -> None:
    (tmp_path / "crate.obj").symlink_to("gone.obj")
    ran = tidegate("check", tmp_path / "crate.obj")
    assert ran.code == 2 and "it is a link that leads nowhere" in ran.err
