"""The list of all checks under what they look at; with a rule set, the level each has in it."""

from __future__ import annotations

import textwrap
from collections.abc import Mapping, Sequence
from typing import Any

from tidegate.model.check import GROUPS
from tidegate.model.finding import LEVELS

LEAST = 30  # columns that a sense needs beside the name; with less room it stands below
_LEVEL = len("warning +  ")


def check_list(records: Sequence[Mapping[str, Any]], set_name: str | None, width: int | None) -> str:
    """The list. records: as `tidegate why --format json` gives them. width: of the terminal, to which lines are wrapped;
    None is no terminal, and each check one line, so that `grep` finds all of it."""
    name_width = max(len(record["check"]) for record in records) + 2
    lines: list[str] = []
    for group in GROUPS:
        here = [record for record in records if record["group"] == group]
        if here:
            lines += ["", group] if lines else [group]
        for record in here:
            level = f"{level_in_set(record):<{_LEVEL}}" if set_name else ""
            lines += _with_sense(f"{record['check']:<{name_width}}{level}", record["looks_at"], width)
    return "\n".join(lines)


def level_in_set(record: Mapping[str, Any]) -> str:
    """`off` where no rule of the set looks; the strictest level, with a `+` where other rules have other ones."""
    levels: set[str] = {rule["level"] for rule in record["in_force"]}
    strictest = next((level for level in LEVELS if level in levels), "off")
    return strictest + (" +" if len(levels) > 1 else "")


def _with_sense(head: str, sense: str, width: int | None) -> list[str]:
    if width is None:
        return [f"  {head}{sense}"]
    if width - len(head) - 2 < LEAST:
        return [f"  {head}".rstrip(), *textwrap.wrap(sense, width, initial_indent="    ", subsequent_indent="    ")]
    return textwrap.wrap(sense, width, initial_indent=f"  {head}", subsequent_indent=" " * (len(head) + 2))
