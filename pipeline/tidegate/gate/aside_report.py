"""The report of a drop that nobody could judge: what happened, to which drop, what holds here, and what to do next.

A judged prop has its report from the judge. This one is for drops whose judge gave none: its worker crashed, hung or ran
out of memory, an archive that must not be unpacked, a drop that holds nothing to judge, a step that will never succeed.
"""

from __future__ import annotations

import json
import textwrap
from collections.abc import Sequence
from typing import Any

from tidegate.errors import TidegateError
from tidegate.model.file_stem import file_stem

from .faults import shown
from .ticket import Ticket

SCHEMA = "tidegate-aside/1"
TEXT, JSON = ".tidegate.txt", ".tidegate.json"
_WIDTH = 80
_DONE = "every file of it lies beside this report, as it came"
_HELP = "a drop needs a mesh or a texture map that can be read: mend what is named above, then drop it again"


def aside_report(
    prop: str, why: TidegateError, ticket: Ticket, files: Sequence[str]
) -> tuple[tuple[str, bytes], tuple[str, bytes]]:
    """(file name, content) of the text and of the JSON: `<prop>.tidegate.txt` and `<prop>.tidegate.json`.

    files: of the drop, as they lie beside the report. Names that are no UTF-8 are written escaped.
    """
    stem = file_stem(prop)
    record = _record(prop, why, ticket, files)
    return (
        (f"{stem}{TEXT}", _text(record).encode("utf-8", "backslashreplace")),
        (f"{stem}{JSON}", (json.dumps(record, indent=1) + "\n").encode("ascii")),
    )


def one_line(why: TidegateError) -> str:
    """The reason as `status`, log and ledger show it."""
    return f"{why.path}: {why.what}" if why.path else why.what


def _record(prop: str, why: TidegateError, ticket: Ticket, files: Sequence[str]) -> dict[str, Any]:
    return {
        "schema": SCHEMA,
        "prop": shown(prop),
        "verdict": "unjudged",
        "what": why.what,
        "path": why.path,
        "expected": why.expected,
        "came": why.came,
        "done": _DONE,
        "help": why.help or _HELP,
        "files": [shown(path) for path in files],
        "run": {
            "ticket": ticket.ticket,
            "gate": ticket.gate,
            "owner": ticket.owner,
            "drop": shown(ticket.drop),
            "claimed_at": ticket.claimed_at,
        },
    }


def _text(record: dict[str, Any]) -> str:
    run = record["run"]
    lines = [record["prop"], "-" * min(_WIDTH, len(record["prop"])), ""]
    lines += _wrapped("", f"could not be judged: {record['what']}")
    told = [(key, record[key]) for key in ("path", "expected", "came", "done", "help")]
    told.insert(3, ("drop", f"{run['drop']}, {len(record['files'])} files, claimed {run['claimed_at']}"))
    told.insert(4, ("ticket", f"{run['ticket']} of gate {run['gate']}"))
    for key, value in told:
        lines += _wrapped(f"  {key}: ", value) if value else []
    return "\n".join([*lines, "", f"{record['prop']} unjudged", ""])


def _wrapped(head: str, text: str) -> list[str]:
    """Lines of a text that may have its own; each is made printable, so that a name cannot drive a terminal."""
    lines: list[str] = []
    for each in text.splitlines():
        lines += textwrap.wrap(
            shown(each),
            _WIDTH,
            initial_indent="    " if lines else head,
            subsequent_indent="    ",
            break_on_hyphens=False,
        )
    return lines
