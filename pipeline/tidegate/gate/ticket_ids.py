"""Ticket ids that only rise within a gate, so that of two hand-overs the one claimed later can be told for sure.

An id is the time to 1/4096 of a second and twelve bits of chance: `20261125T120347Z-5f0c91`. Where the clock stands still or
was set back, the next id is one such step above the highest that the gate knows: what it gave itself, its tickets, the
names in the returned tree, and its ledger. Ids compare as text.
"""

from __future__ import annotations

import os
import re
import secrets
from collections.abc import Callable
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta

from tidegate.errors import GateFault

from .layout import Layout

TICKET_ID = re.compile(r"\d{8}T\d{6}Z-[0-9a-f]{6}", re.ASCII)
_SECOND, _STEPS = "%Y%m%dT%H%M%SZ", 4096
_STEP = slice(0, 20)
"""The part of an id that is time; what follows is chance."""


@dataclass(slots=True)
class TicketIds:
    """in_ledger: the highest id that the ledger knows, "" for none."""

    layout: Layout
    in_ledger: Callable[[], str] = lambda: ""
    _last: str = ""
    _all_known: bool = False

    def new(self, now: datetime) -> str:
        """An id above all that this gate ever gave."""
        if not self._all_known:
            self._look_back()
        step = _step_at(now)
        if step <= self._last:
            step = _after(self._last) or step
        self._last = max(step, self._last)
        return step + secrets.token_hex(2)[:3]

    def _look_back(self) -> None:
        """What cannot be read holds no drop up: it is looked at again with the next id."""
        self._all_known = True
        known = [self._last]
        for folder in (self.layout.tickets, self.layout.handing, self.layout.paths.returned):
            try:
                names = os.listdir(folder)
            except OSError:
                self._all_known = False
                continue
            known += [found for name in names for found in TICKET_ID.findall(name)]
        try:
            known += TICKET_ID.findall(self.in_ledger())
        except GateFault:
            self._all_known = False
        self._last = max(each[_STEP] for each in known)


def _step_at(now: datetime) -> str:
    return f"{now.astimezone(UTC):{_SECOND}}-{now.microsecond * _STEPS // 1_000_000:03x}"


def _after(step: str) -> str:
    """The next step; "" where there is none, since somebody made up a time that is none or the last of all."""
    count = int(step[-3:], 16) + 1
    if count < _STEPS:
        return f"{step[:-3]}{count:03x}"
    try:
        # Not by strptime, which imports a module when it is first asked: just then the disk may be ill.
        parts = (step[:4], step[4:6], step[6:8], step[9:11], step[11:13], step[13:15])
        year, month, day, hour, minute, at = (int(part) for part in parts)
        second = datetime(year, month, day, hour, minute, at, tzinfo=UTC) + timedelta(seconds=1)
    except (ValueError, OverflowError):
        return ""
    return f"{second:{_SECOND}}-000"
