"""README says what is true: its two commands, its commands and options, and its Python."""

from __future__ import annotations

import re
import subprocess
import sys
from pathlib import Path

import pytest

from tests.support.clean_prop import net_locker
from tests.support.command_line import tidegate
from tidegate.cli.main import COMMANDS

ROOT = Path(__file__).resolve().parents[1]
README = (ROOT / "README.md").read_text("utf-8")


def blocks(language: str) -> list[str]:
    return re.findall(rf"^```{language}\n(.*?)^```", README, re.MULTILINE | re.DOTALL)


def test_it_opens_with_the_job_and_two_lines_to_copy() -> None:
    title, paragraph, *_ = README.split("\n\n")
    assert title == "# tidegate"
    assert len(paragraph) > 200 and not paragraph.startswith(("#", "|", "-", "`"))
    see, test = blocks("sh")[:2]
    for line in (see, test):
        assert line.count("\n") == 1
        assert line.startswith("python3 -m venv .venv && .venv/bin/pip install ")
    assert "make_props.py" in see and "tidegate watch --once" in see
    assert test.rstrip().endswith(".venv/bin/python -m pytest -n auto")


def test_what_must_pass_is_what_readme_says() -> None:
    run = (ROOT / ".ci" / "run").read_text("utf-8").splitlines()
    _, test = blocks("sh")[:2]
    assert run[-1] == test.rstrip().split("&& .venv/bin/")[-1]
    assert any("-e '.[test]'" in line for line in run) and "-e '.[test]'" in test


def test_windows_has_both_too() -> None:
    see, test = blocks("powershell")[0].splitlines()
    assert r"demo_project\make_props.py" in see and "watch --once" in see
    assert test.endswith("-m pytest -n auto")


def shown_commands() -> list[str]:
    lines = [line for block in blocks("sh")[2:] for line in block.splitlines()]
    return [
        part.strip() for line in lines for part in line.split("#")[0].split(";") if part.strip().startswith("tidegate ")
    ]


def test_every_command_shown_is_one_and_has_those_options() -> None:
    assert {line.split()[1] for line in shown_commands()} <= set(COMMANDS)
    for line in shown_commands():
        help_text = tidegate(line.split()[1], "--help").out
        for word in line.split()[2:]:
            if word.startswith("--"):
                assert word in help_text, line


def test_every_command_there_is_is_shown() -> None:
    assert all(re.search(rf"\btidegate {command}\b", README) for command in COMMANDS)


@pytest.mark.parametrize("link", sorted(set(re.findall(r"\]\(([^)#]+)\)", README))))
def test_links_lead_somewhere(link: str) -> None:
    assert "://" in link or (ROOT / link).exists()


def test_the_python_runs(tmp_path: Path) -> None:
    net_locker(tmp_path).rename(tmp_path / "bollard")
    (code,) = blocks("python")
    done = subprocess.run([sys.executable, "-c", code], cwd=tmp_path, capture_output=True, check=True, text=True)
    assert done.stdout.startswith("net_locker approved [")


def test_exit_codes_are_all_told() -> None:
    from tidegate.cli.exit_codes import ExitCode

    for code in ExitCode:
        assert re.search(rf"\b{code.value}\b", README), code


def test_the_columns_of_an_order_list_are_all_told() -> None:
    from tidegate.load.order_list import COLUMNS

    (paragraph,) = (text for text in README.split("\n\n") if text.startswith("An order list"))
    told = set(re.findall(r"`(\w+)`", paragraph))
    assert set(COLUMNS) <= told
    # Besides those, the columns that are made of a role or a slot, one example each.
    assert told - set(COLUMNS) == {"triangles_lod1", "triangles_collision", "map_size_normal"}
