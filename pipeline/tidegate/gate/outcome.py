"""What the judge says of one prop of a drop, as the gate needs it, and what the gate tells the judge."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path

from .identity import Deliveries
from .redrop_story import RedropStory

APPROVED, RETURNED, UNJUDGED = "approved", "returned", "unjudged"


@dataclass(frozen=True, slots=True)
class Outcome:
    """The verdict on one prop and everything that travels with it.

    files: paths relative to the examined folder, "/" between parts; a file may belong to several props of one drop and
    is then copied to each. place: parts of the path under the delivery tree. owner: "" takes the gate's.
    sidecars: (file name, content) of report and pictures. reason: one line. version: the version field of the file
    names, "" when they have none. hashes: (path, sha256) as judged, so that what is delivered is what was judged; may
    be left empty for files the judge did not read whole. named: the prop's name as its files spell it, "" where that is
    not known.
    """

    prop: str
    verdict: str
    files: tuple[str, ...]
    place: tuple[str, ...] = ()
    owner: str = ""
    sidecars: tuple[tuple[str, bytes], ...] = ()
    reason: str = ""
    version: str = ""
    hashes: tuple[tuple[str, str], ...] = ()
    named: str = ""


@dataclass(frozen=True, slots=True)
class DropContext:
    """What the judge may want to know of a drop besides its files. Can be pickled.

    deliveries: answers whose a prop name is and what its newest version holds. redrop: what this drop mends, or None.
    left_behind: links and special files of the drop, which stay in the inbox and are never opened. reports: files of the
    drop that are our own reports of an earlier return; they are no part of any prop, and no outcome may name them. near: for
    files that came without their prop, which return or version was near and why it was not taken; "" for nothing.
    claimed_at: of the ticket.
    """

    ticket: str
    gate: str
    owner: str
    drop: str
    deliveries: Deliveries
    redrop: RedropStory | None = None
    left_behind: tuple[str, ...] = ()
    reports: frozenset[str] = frozenset()
    near: str = ""
    claimed_at: str = ""


Examine = Callable[[Path, DropContext], Sequence[Outcome]]
