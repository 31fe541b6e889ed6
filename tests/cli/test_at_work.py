"""What `watch --once` tells while it works: on a terminal, in a file, and as lines of the log."""

from __future__ import annotations

import io
import json
import re
import subprocess
import sys
from pathlib import Path
from types import SimpleNamespace
from typing import Any, cast

import pytest

from tests.cli.one_gate import CONFIG
from tests.gate.hostile_case import OBJ
from tidegate.cli.at_work import ON_A_TERMINAL, QUIET, AtWork
from tidegate.daemon.log import Log
from tidegate.gate.publish import Delivered


class Terminal(io.StringIO):
    def isatty(self) -> bool:
        return True


class Clock:
    now = 100.0

    def __call__(self) -> float:
        return self.now


def delivered(prop: str, verdict: str) -> Delivered:
    return cast(Delivered, SimpleNamespace(record=SimpleNamespace(prop=prop, verdict=verdict)))


def test_in_a_file_a_line_a_verdict_and_one_after_ten_seconds_of_silence() -> None:
    out, clock = io.StringIO(), Clock()
    shown = AtWork(out, lambda: (3, 2), clock=clock)
    shown.told(
        [delivered("fish_crate", "returned"), delivered("fish_crate", "kept"), delivered("odd\x1b[31m", "approved")]
    )
    clock.now += QUIET - 0.1
    shown.say()
    assert out.getvalue() == "returned: fish_crate\napproved: odd\\x1b[31m\n"
    clock.now += 0.1
    shown.say()
    shown.say()
    clock.now += 5
    shown.told([delivered("bollard", "approved")])
    clock.now += QUIET - 0.1  # a verdict breaks the silence as well
    shown.say()
    assert out.getvalue().splitlines()[2:] == [
        "at work: 2 handed over, 3 in hand, 2 arriving (10 s)",
        "approved: bollard",
    ]


def test_on_a_terminal_one_line_that_is_written_over_and_taken_away() -> None:
    out, clock = Terminal(), Clock()
    shown = AtWork(out, lambda: (1, 0), clock=clock)
    shown.told([delivered("fish_crate", "returned")])
    assert out.getvalue() == ""
    clock.now += ON_A_TERMINAL
    shown.say()
    line = "\r\x1b[Kat work: 1 handed over, 1 in hand, 0 arriving (0 s); last fish_crate"
    assert out.getvalue() == line
    shown.write("a warning\n")
    assert out.getvalue() == line + "\r\x1b[Ka warning\n"
    with shown:
        pass
    assert out.getvalue().endswith("a warning\n\r\x1b[K")


def test_a_line_of_a_terminal_is_never_wrapped() -> None:
    out, clock = Terminal(), Clock()
    shown = AtWork(out, lambda: (1, 0), clock=clock)
    shown.told([delivered("x" * 200, "returned")])
    clock.now += 1
    shown.say()
    assert len(out.getvalue().removeprefix("\r\x1b[K")) == 79


def test_where_log_lines_are_wanted_it_is_these() -> None:
    out, clock = io.StringIO(), Clock()
    log = Log("json", "info")
    shown = AtWork(out, lambda: (3, 2), log, clock)
    log.out = cast(Any, shown)
    shown.told([delivered("fish_crate", "returned")])  # the log tells verdicts by itself
    clock.now += QUIET
    shown.say()
    (line,) = out.getvalue().splitlines()
    told = json.loads(line)
    assert {key: told[key] for key in ("message", "handed_over", "in_hand", "arriving", "seconds")} == {
        "message": "at work",
        "handed_over": 1,
        "in_hand": 3,
        "arriving": 2,
        "seconds": 10,
    }


def test_nobody_reads_it_and_work_goes_on() -> None:
    class Gone(io.StringIO):
        def write(self, text: str) -> int:
            raise BrokenPipeError

    shown = AtWork(Gone(), lambda: (0, 0))
    with shown:
        shown.told([delivered("fish_crate", "returned")])


@pytest.mark.parametrize("form", ["text", "json"])
def test_the_whole_command_with_its_output_in_pipes(tmp_path: Path, form: str) -> None:
    (tmp_path / "tidegate.toml").write_text(CONFIG)
    for name in ("crate", "float"):
        (tmp_path / "in" / name).mkdir(parents=True)
        (tmp_path / "in" / name / f"{name}.obj").write_bytes(OBJ + name.encode().join([b"# ", b"\n"]))
    command = [sys.executable, "-m", "tidegate", "watch", "--once", "--log", form]
    ran = subprocess.run(command, cwd=tmp_path, capture_output=True, text=True, check=False)
    assert ran.returncode == 1, ran.stderr
    table = [line for line in ran.stdout.splitlines() if re.match(r"(crate|float) +returned +back/", line)]
    assert len(table) == 2, "places are told as seen from here"
    if form == "text":
        assert sorted(ran.stderr.splitlines()) == ["returned: crate", "returned: float"]
    else:
        lines = [json.loads(line) for line in ran.stderr.splitlines()]
        assert sorted(line["prop"] for line in lines if line["message"] == "returned") == ["crate", "float"]
