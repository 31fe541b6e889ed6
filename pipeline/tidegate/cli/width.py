"""How wide lines may be: the terminal's own width, or none when nobody sits at it."""

from __future__ import annotations

import shutil
import sys

NARROWEST, WIDEST = 24, 110


def terminal_width() -> int | None:
    """Columns of the terminal that stdout is, at least 24 and at most 110; None when stdout is a file or a pipe."""
    if not sys.stdout.isatty():
        return None
    return min(max(shutil.get_terminal_size((80, 24)).columns, NARROWEST), WIDEST)
