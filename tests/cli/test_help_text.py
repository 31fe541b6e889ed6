"""The help that is kept as text is what the command line would say.

Anew with: python -m tests.cli.test_help_text
"""

from __future__ import annotations

from pathlib import Path

from click.testing import CliRunner

from tidegate.cli.main import group

KEPT = Path(__file__).resolve().parents[2] / "pipeline" / "tidegate" / "cli" / "help.txt"


def said() -> str:
    return CliRunner().invoke(group, ["--help"], prog_name="tidegate", terminal_width=80).output


def test_the_kept_text_is_what_the_command_line_says() -> None:
    assert KEPT.read_text("utf-8") == said()


if __name__ == "__main__":
    KEPT.write_text(said(), "utf-8")
