"""Everything of a gate that does not move, and why, as rows for `tidegate status`."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from datetime import datetime, timedelta

from tidegate.errors import TidegateError
from tidegate.gate.faults import shown
from tidegate.gate.ledger import WaitingRow
from tidegate.gate.make_ticket import rfc3339
from tidegate.gate.retry import Pause
from tidegate.gate.scan import NAMED_AS_PART
from tidegate.gate.settle import Waiting

RENAME = "rename it where it is part of a drop, else remove it: the gate does neither"


def reason_of(fault: TidegateError) -> str:
    """One line: what could not be done, to what, and what the system said."""
    return ": ".join(each for each in (fault.what, fault.path, fault.came) if each)


def rows_of(
    waiting: Iterable[Waiting],
    refused: Mapping[tuple[str, str], tuple[object, str]],
    not_taken: Iterable[str],
    paused: Mapping[str, Pause],
    names: Mapping[str, str],
    now: float,
    wall: datetime,
) -> list[WaitingRow]:
    """One row a thing; what pauses wins over what merely waits. names: what a paused key is to a person.

    not_taken: paths of files that nothing will be done with. What merely waits was never tried; where it settles by time
    alone, that time is its next try.

    now, wall: the same moment, monotonic and by the wall clock.
    """
    said = rfc3339(wall)

    def at(moment: float) -> str:
        return rfc3339(wall + timedelta(seconds=max(0.0, moment - now)))

    rows = [
        WaitingRow(shown(each.drop.name), shown(each.reason), "", 0, "" if each.until is None else at(each.until), said)
        for each in waiting
    ]
    rows += [
        WaitingRow(shown(key[1]), shown(reason), "change or remove it: it cannot be claimed as it is", 1, "", said)
        for key, (_, reason) in sorted(refused.items())
    ]
    rows += [WaitingRow(shown(path), NAMED_AS_PART, RENAME, 1, "", said) for path in not_taken]
    for key, pause in paused.items():
        name = shown(names.get(key, key))
        rows.append(WaitingRow(name, shown(pause.reason), shown(pause.heals), pause.tries, at(pause.until), said))
    return list({row.key: row for row in rows}.values())
