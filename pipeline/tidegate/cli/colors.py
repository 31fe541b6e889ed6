"""Color on a terminal that wants it. `NO_COLOR` set to anything turns it off."""

from __future__ import annotations

import os
import re
import sys

_STYLES = {"error": "1;31", "warning": "33", "note": "36", "approved": "1;32", "returned": "1;31", "unjudged": "1;35"}
_HEAD = re.compile(r"^(\s*(?:follows from \S+: )?)(error|warning|note)\b")
_VERDICT = re.compile(r"\b(approved|returned|unjudged)\b")


def wanted() -> bool:
    """Whether stdout is a terminal that color may be written to."""
    return sys.stdout.isatty() and not os.environ.get("NO_COLOR") and os.environ.get("TERM") != "dumb"


def colored(report: str) -> str:
    """The text report with its levels and its verdict line in color; words stay, so nothing is told by color alone."""
    if not wanted():
        return report
    lines = report.split("\n")
    painted = [_HEAD.sub(lambda m: m.group(1) + _paint(m.group(2)), line) for line in lines]
    for index in range(len(painted) - 1, -1, -1):
        if painted[index]:
            painted[index] = _VERDICT.sub(lambda m: _paint(m.group(1)), painted[index], count=1)
            break
    return "\n".join(painted)


def _paint(word: str) -> str:
    return f"\x1b[{_STYLES[word]}m{word}\x1b[0m"
