"""The folders that a judged drop becomes: one for each prop, and what goes to the kept tree.

Each prop is handed separately; a file that several props share is copied to each. Files that no prop names go with the
first prop that is not delivered, and aside when all are: the delivery tree holds nothing that was not judged.
"""

from __future__ import annotations

import posixpath
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from tidegate.errors import PermanentFault

from . import handed
from .faults import shown
from .manifest import MANIFEST
from .outcome import APPROVED, UNJUDGED, Outcome
from .proof import proof_of
from .stage import Source, sources
from .ticket import ARCHIVE, SUPERSEDED, Ticket

KEPT = "kept"
OURS = ".tidegate."
"""In the name of everything that we write beside a prop, but for the manifest."""


@dataclass(frozen=True, slots=True)
class Part:
    """One folder to make: an outcome with its sources settled."""

    outcome: Outcome
    sources: tuple[Source, ...]


def parts_of(ticket: Ticket, root: Path, outcomes: Sequence[Outcome], present: list[str]) -> list[Part]:
    """One for each prop. present: paths of all files of the drop but our own reports, relative to root."""
    _refuse_unknown(outcomes, present)
    named = {path for outcome in outcomes for path in outcome.files}
    rest = tuple(path for path in present if path not in named)
    outcomes = [replace(outcome, owner=outcome.owner or ticket.owner) for outcome in outcomes]
    home = next((at for at, outcome in enumerate(outcomes) if outcome.verdict != APPROVED), None)
    if rest and home is not None:
        outcomes[home] = replace(outcomes[home], files=tuple(sorted((*outcomes[home].files, *rest))))
    elif rest or not outcomes:
        reason = "belongs to no prop of the drop" if outcomes else "no prop was found in it"
        outcomes.append(Outcome(ticket.drop, UNJUDGED, rest, reason=reason, owner=ticket.owner))
    return [Part(each, sources(root, [(path, path) for path in each.files])) for each in outcomes]


def kept_parts(ticket: Ticket, home: Path, claimed: list[str]) -> list[Part]:
    """What of a claim is kept and not judged. claimed: paths of all its files, relative to home."""
    parts = []
    for kind, reason in ((ARCHIVE, "the archive as it came"), (SUPERSEDED, "what mended files took the place of")):
        paths = [path for path in claimed if path.startswith(f"{kind}/")]
        if paths:
            parts.append(kept(ticket, home, paths, reason))
    return parts


def kept(ticket: Ticket, home: Path, paths: list[str], reason: str) -> Part:
    outcome = Outcome(ticket.drop, KEPT, tuple(paths), reason=reason, owner=ticket.owner)
    return Part(outcome, sources(home, [(path, path) for path in paths]))


def _refuse_unknown(outcomes: Sequence[Outcome], present: list[str]) -> None:
    known = set(present)
    for outcome in outcomes:
        for path in outcome.files:
            if path not in known or posixpath.normpath(path) != path:
                raise PermanentFault(
                    "the judge names a file that the drop does not have",
                    path=shown(path),
                    expected="a file under the examined folder",
                    came=f"prop {shown(outcome.prop)}",
                    done="nothing was handed over",
                    help="this is a fault of tidegate: report it with the log",
                )
    homes = [(each.verdict, each.place, each.prop) for each in outcomes]
    if twice := next((home for home in homes if homes.count(home) > 1), None):
        raise PermanentFault(
            "two props of one drop have the same name and place",
            path=shown(twice[2]),
            done="nothing was handed over",
            help="drop them one after the other, or name them apart",
        )


def our_own_reports(root: Path) -> frozenset[str]:
    """Files of a returned folder dropped back that are byte for byte what we wrote: new ones take their place.

    Anything edited, or only named like ours, is the artist's and travels on; and so does what a record calls ours but has no
    name of ours: a record in a drop is only somebody's word.
    """
    record = handed.read(root)
    if record is None:
        return frozenset()
    proven = {
        name for name, sha256 in record.sidecars if OURS in posixpath.basename(name) and _has(root / name, sha256)
    }
    return frozenset(proven | {handed.RECORD} | ({MANIFEST} if (root / MANIFEST).is_file() else set()))


def _has(path: Path, sha256: str) -> bool:
    try:
        return proof_of(path).sha256 == sha256
    except OSError:
        return False
