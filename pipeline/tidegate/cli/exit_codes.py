"""Exit codes of every command. A script must treat a code it does not know as a failure."""

from __future__ import annotations

from collections.abc import Iterable
from enum import IntEnum


class ExitCode(IntEnum):
    """What the last process status says."""

    ALL_APPROVED = 0
    FOUND_ERRORS = 1  # findings at error level
    ASKED_WRONGLY = 2  # wrong option, missing path, broken configuration
    NOT_JUDGED = 3  # something could not be judged; wins over 1
    NOTHING_TO_CHECK = 4
    STOPPED = 130  # interrupted from the keyboard or by a signal
    READER_GONE = 141  # whoever read our output stopped, as `head` does; what a shell reports for SIGPIPE


EXPLAINED = """\b
Exit status:
  0    all approved
  1    findings at error level
  2    asked wrongly
  3    something could not be judged (wins over 1)
  4    nothing to check
  130  stopped
  141  the reader of a pipe went away"""


def told(*, done: str, wrongly: str, failed: str = "tidegate itself failed", nothing: str = "") -> str:
    """The part of a command's help about its exit status, for one that judges nothing."""
    rows = [("0", done), ("2", wrongly), ("3", failed), ("4", nothing), ("130", "stopped")]
    rows.append(("141", "the reader of a pipe went away"))
    return "\b\nExit status:\n" + "\n".join(f"  {code:<5}{what}" for code, what in rows if what)


def code_for(verdicts: Iterable[str]) -> ExitCode:
    """The code for these verdicts."""
    seen = set(verdicts)
    if not seen:
        return ExitCode.NOTHING_TO_CHECK
    if "unjudged" in seen:
        return ExitCode.NOT_JUDGED
    return ExitCode.FOUND_ERRORS if "returned" in seen else ExitCode.ALL_APPROVED
