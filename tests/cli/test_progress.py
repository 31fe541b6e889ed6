"""The progress line: only on a terminal, only after a while, gone before anything is printed."""

from __future__ import annotations

import io
import threading

import pytest

from tidegate.cli import progress
from tidegate.cli.progress import Progress


class Terminal(io.StringIO):
    """A stream that says it is a terminal and tells when something was written to it."""

    def __init__(self, terminal: bool = True) -> None:
        super().__init__()
        self.terminal = terminal
        self.written = threading.Event()

    def isatty(self) -> bool:
        return self.terminal

    def flush(self) -> None:
        self.written.set()


@pytest.fixture
def at_once(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(progress, "FIRST_AFTER", 0.0)
    monkeypatch.setattr(progress, "EVERY", 0.01)


def test_one_long_piece_of_work_is_shown_and_taken_away_again(at_once: None) -> None:
    out = Terminal()
    with Progress(3, "checking", out) as line:
        line.step("mooring_bollard")
        assert out.written.wait(10)
    shown = out.getvalue()
    assert "\r\x1b[Kchecking 1 of 3: mooring_bollard (" in shown
    assert shown.endswith("\r\x1b[K")


def test_clear_leaves_an_empty_line_for_what_is_printed_next(at_once: None) -> None:
    out = Terminal()
    with Progress(3, "checking", out) as line:
        line.step("mooring_bollard")
        assert out.written.wait(10)
        line.clear()
        assert out.getvalue().endswith("\r\x1b[K")


def test_long_names_stay_on_one_line(at_once: None) -> None:
    out = Terminal()
    with Progress(1, "checking", out) as line:
        line.step("x" * 500)
        assert out.written.wait(10)
    assert max(len(part) for part in out.getvalue().split("\r\x1b[K")) == 79


def test_short_work_shows_nothing() -> None:
    out = Terminal()
    with Progress(1, "checking", out) as line:
        line.step("mooring_bollard")
    assert out.getvalue() == ""


def test_without_a_terminal_nothing_is_ever_written(at_once: None) -> None:
    out = Terminal(terminal=False)
    with Progress(1, "checking", out) as line:
        line.step("mooring_bollard")
        assert not out.written.wait(0.1)
    assert out.getvalue() == ""
