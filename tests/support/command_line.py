"""Running `tidegate` in this process, as a user would call it: exit code, stdout and stderr."""

from __future__ import annotations

import contextlib
import io
from typing import NamedTuple

from tidegate.cli.main import exit_code


class Ran(NamedTuple):
    code: int
    out: str
    err: str


def tidegate(*arguments: object) -> Ran:
    """Runs one command with these arguments."""
    out, err = io.StringIO(), io.StringIO()
    with contextlib.redirect_stdout(out), contextlib.redirect_stderr(err):
        code = exit_code([str(argument) for argument in arguments])
    return Ran(code, out.getvalue(), err.getvalue())
