"""What every command has in common: help with examples, asking wrongly, lazy imports, and outputs of a stated form."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from importlib import import_module
from pathlib import Path

import pytest

from tests.support.command_line import tidegate
from tidegate.cli.exit_codes import ExitCode
from tidegate.cli.main import COMMANDS


@pytest.mark.parametrize("command", COMMANDS)
def test_help_has_examples_and_exit_codes(command: str) -> None:
    ran = tidegate(command, "--help")
    assert (ran.code, ran.err) == (0, "")
    examples = [line for line in ran.out.splitlines() if line.strip().startswith(f"tidegate {command} ")]
    assert "Examples:" in ran.out
    assert len(examples) >= 2
    status = ran.out.partition("Exit status:")[2]
    codes = [int(line.split()[0]) for line in status.splitlines() if line.strip()]
    assert codes == sorted(codes) and {0, 2, 3, 130, 141} <= set(codes) <= set(ExitCode)
    assert all(len(line) <= 100 for line in ran.out.splitlines())


@pytest.mark.parametrize("command", COMMANDS)
def test_the_list_of_commands_says_what_their_own_help_says(command: str) -> None:
    own = import_module(f"tidegate.cli.{command}").command
    assert COMMANDS[command] == own.help.splitlines()[0]
    assert COMMANDS[command] in " ".join(tidegate("--help").out.split())


@pytest.mark.parametrize("command", COMMANDS)
def test_examples_use_options_that_there_are(command: str) -> None:
    own = import_module(f"tidegate.cli.{command}").command
    known = {word for parameter in own.params for word in (*parameter.opts, *parameter.secondary_opts)} | {"--help"}
    for line in tidegate(command, "--help").out.splitlines():
        if line.strip().startswith(f"tidegate {command} "):
            shown = line.strip().split("  ")[0]
            assert {word for word in shown.split() if word.startswith("--")} <= known, line


@pytest.mark.parametrize("command", COMMANDS)
def test_a_wrong_option_is_asked_wrongly_and_shows_the_way(command: str) -> None:
    ran = tidegate(command, "--fromat", "json")
    assert (ran.code, ran.out) == (2, "")
    assert "--fromat" in ran.err
    assert f"tidegate {command} --help" in ran.err


MISTYPED = {
    "command": (("chek", "x"), "did you mean `check`?"),
    "option": (("rules", "--fromat", "json"), "--format"),
    "check": (("why", "mirored-islands"), "did you mean `mirrored-islands`?"),
    "check like none": (("why", "nosuch"), "`tidegate why` lists them all"),
    "rule set": (("rules", "furnitur"), "did you mean `furniture`?"),
    "forced rule set": (("check", ".", "--set", "handhelt"), "did you mean `handheld`?"),
}


@pytest.mark.parametrize("case", MISTYPED)
def test_a_mistyped_word_gets_the_nearest_right_one(case: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    (tmp_path / "plank.obj").write_text("v 0 0 0\nv 1 0 0\nv 0 1 0\nf 1 2 3\n")
    monkeypatch.chdir(tmp_path)
    arguments, says = MISTYPED[case]
    ran = tidegate(*arguments)
    assert (ran.code, ran.out) == (2, "")
    assert says in ran.err


def test_a_mistyped_file_name_gets_the_nearest_right_one(tmp_path: Path) -> None:
    (tmp_path / "bollard.glb").write_bytes(b"")
    ran = tidegate("check", tmp_path / "bolard.glb")
    assert ran.code == 2
    assert f"did you mean `{tmp_path / 'bollard.glb'}`?" in ran.err


def test_without_a_command_help_is_shown() -> None:
    ran = tidegate()
    assert ran.code == 0
    assert "Commands:" in ran.out


def test_the_version_is_the_packages() -> None:
    from importlib.metadata import version

    assert tidegate("--version").out == f"tidegate {version('tidegate')}\n"


@pytest.mark.parametrize("command", ["watch", "status", "history", "recover"])
def test_gate_commands_without_a_configuration_are_asked_wrongly(
    command: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    ran = tidegate(command)
    assert ran.code == 2
    assert "tidegate new" in ran.err
    assert tidegate(command, "--config", tmp_path / "nothere.toml").code == 2


def test_help_imports_nothing_heavy() -> None:
    """`tidegate --help` answers before anything is measured, so it loads nothing that measuring needs."""
    heavy = ("numpy", "pydantic", "rich", "PIL", "trimesh", "jinja2", "watchdog", "sqlite3")
    code = (
        "import sys; from tidegate.cli.main import exit_code; exit_code(['--help']);"
        f"sys.stderr.write(' '.join(m for m in {heavy!r} if m in sys.modules))"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, check=True, text=True)
    assert "Commands:" in done.stdout
    assert done.stderr == ""


@pytest.mark.parametrize(
    ("arguments", "top"),
    [
        (("rules", "--format", "json"), list),
        (("rules", "furniture", "--format", "json"), dict),
        (("why", "--format", "json"), list),
        (("why", "mirrored-islands", "--format", "json"), dict),
    ],
)
def test_json_outputs_are_json_and_nothing_else(arguments: tuple[str, ...], top: type) -> None:
    ran = tidegate(*arguments)
    assert (ran.code, ran.err) == (0, "")
    assert isinstance(json.loads(ran.out), top)


def test_every_check_is_explained(tmp_path: Path) -> None:
    from tidegate import checks

    names = [entry["check"] for entry in json.loads(tidegate("why", "--format", "json").out)]
    assert names == sorted(checks.names())
    for name in names:
        ran = tidegate("why", name)
        assert ran.code == 0
        for part in ("looks at:", "why:", "put right:", "cannot see:", "level:"):
            assert part in ran.out
        assert max(len(line) for line in ran.out.splitlines()) <= 80, name


def test_rules_tells_which_line_set_each_limit() -> None:
    shown = json.loads(tidegate("rules", "furniture", "--format", "json").out)
    assert shown["name"] == "furniture"
    text = tidegate("rules", "furniture").out
    lines = Path(shown["files"][0]).read_text("utf-8").splitlines()
    # A limit the furniture set states itself, and the line that states it.
    number = next(i for i, line in enumerate(lines, 1) if line.startswith("wanted = "))
    assert f"furniture.toml:{number}]" in text


def test_rules_proves_a_file_and_tells_every_fault_with_its_line(tmp_path: Path) -> None:
    file = tmp_path / "quay.toml"
    file.write_text('titel = "Quay"\n\n[[rule]]\ncheck = "mirrored-island"\n')
    ran = tidegate("rules", file)
    assert ran.code == 2
    assert f"{file}:1: " in ran.err and "did you mean `title`?" in ran.err
    assert f"{file}:4: " in ran.err and "did you mean `mirrored-islands`?" in ran.err
    file.write_text('title = "Quay"\nstarts_from = "furniture"\n')
    assert tidegate("rules", file).code == 0


def test_a_reader_that_goes_away_gets_no_complaint() -> None:
    """As `tidegate why | head -1`: the pipe is closed before anything is written."""
    read, write = os.pipe()
    os.close(read)
    done = subprocess.run(
        [sys.executable, "-m", "tidegate", "why"], stdout=write, stderr=subprocess.PIPE, check=False, text=True
    )
    os.close(write)
    assert (done.returncode, done.stderr) == (141, "")


def test_a_project_is_whole_though_the_reader_of_the_output_went_away(tmp_path: Path) -> None:
    """As `tidegate new harbour | head -1`: told after all is made, or a half project would refuse the next try."""
    read, write = os.pipe()
    os.close(read)
    asked = [sys.executable, "-m", "tidegate", "new", str(tmp_path / "harbour")]
    done = subprocess.run(asked, stdout=write, stderr=subprocess.PIPE, check=False, text=True)
    os.close(write)
    assert (done.returncode, done.stderr) == (141, "")
    assert tidegate("status", "--config", tmp_path / "harbour" / "tidegate.toml").code == 0


def test_a_dry_run_says_what_would_become_of_each_drop_and_why(tmp_path: Path) -> None:
    tidegate("new", tmp_path / "quay")
    drop = tmp_path / "quay" / "inbox" / "plank"
    drop.mkdir()
    (drop / "plank.obj").write_text("mtllib gone.mtl\nusemtl oak\nv 0 0 0\nv 1 0 0\nv 0 1 0\nf 1 2 3\n")
    ran = tidegate("watch", "--once", "--dry-run", "--config", tmp_path / "quay" / "tidegate.toml")
    assert ran.code == 1
    assert f"props: plank: plank would be returned, into {tmp_path / 'quay' / 'returned'}\n  " in ran.out
    assert "gone.mtl" in ran.out and ran.out.endswith("nothing was moved\n")
    assert (drop / "plank.obj").is_file()
