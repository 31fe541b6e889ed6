"""One claimed drop, from its ticket to its rightful place: the middle of the gate as a straight list.

`prepare` and `finish` stand on both sides of the examination, which a worker does.
"""

from __future__ import annotations

import os
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from tidegate.errors import TidegateError, UnreadableFile

from . import durable, handed
from .archives import unpack
from .faults import disk_step, shown
from .hand_over import Enter, could_not_be_judged, hand_over, set_aside
from .identity import Deliveries
from .layout import Layout
from .outcome import DropContext, Outcome
from .parts import our_own_reports
from .proof import proof_of
from .publish import Delivered
from .redrop_story import RedropStory, story
from .scan import files_under
from .settings import GateRules
from .ticket import ARCHIVE, SUPERSEDED, Ticket


@dataclass(frozen=True, slots=True)
class Prepared:
    """What the worker gets. bytes: of all files, to tell small drops from huge ones. largest: of one file, with its name."""

    ticket: Ticket
    root: Path
    context: DropContext
    bytes: int
    largest: tuple[int, str] = (0, "")


def prepare(ticket: Ticket, layout: Layout, rules: GateRules) -> Prepared:
    """The folder to examine and what the judge should know.

    Raises UnreadableFile for an archive that must not be unpacked (then `set_aside`), GateFault for the disk.
    """
    claimed = layout.claimed_folder(ticket.ticket)
    root = claimed / ticket.drop_folder
    if ticket.kind == "archive":
        root = _unpacked(ticket, claimed, layout, rules)
    durable.make_folders(root, below=layout.claimed)
    context = DropContext(
        ticket=ticket.ticket,
        gate=ticket.gate,
        owner=ticket.owner,
        drop=ticket.drop,
        deliveries=Deliveries(layout.paths.delivery),
        redrop=_story(root, claimed, rules),
        left_behind=ticket.left_behind,
        near=ticket.near,
        reports=our_own_reports(root),
        claimed_at=ticket.claimed_at,
    )
    with disk_step("could not look at a claimed file", root):
        sizes = [(os.lstat(os.path.join(root, path)).st_size, path) for path in files_under(root)]
    return Prepared(ticket, root, context, sum(size for size, _ in sizes), max(sizes, default=(0, "")))


def finish(
    prepared: Prepared, outcomes: Sequence[Outcome], layout: Layout, now: datetime, enter: Enter
) -> tuple[Delivered, ...]:
    """Hand over what was judged; see `hand_over`."""
    return hand_over(prepared.ticket, prepared.root, outcomes, layout, now, enter)


def unjudged(prepared: Prepared, why: TidegateError) -> tuple[Outcome, ...]:
    """The outcome of a drop whose examination crashed, hung or asked for too much: all of it aside, with the reason."""
    ours = our_own_reports(prepared.root)
    files = [path for path in files_under(prepared.root) if path not in ours]
    return (could_not_be_judged(prepared.ticket, files, why),)


def refuse_archive(
    ticket: Ticket, fault: UnreadableFile, layout: Layout, now: datetime, enter: Enter
) -> tuple[Delivered, ...]:
    """A bad archive goes aside whole; the reason says which member and why."""
    durable.remove_copies(layout.unpacked / ticket.ticket)
    return set_aside(ticket, fault, layout, now, enter)


def _unpacked(ticket: Ticket, claimed: Path, layout: Layout, rules: GateRules) -> Path:
    home = layout.unpacked / ticket.ticket
    durable.remove_copies(home)
    durable.make_folders(home, below=layout.unpacked)
    archive = next(iter(sorted((claimed / ARCHIVE).iterdir())))
    root = home / ticket.drop
    unpack(archive, root, rules.archive_limits)
    # A single folder that everything lies in is only the archive's wrapping.
    with disk_step("could not list what was unpacked", root):
        inner = sorted(root.iterdir())
    return inner[0] if len(inner) == 1 and inner[0].is_dir() else root


def _story(root: Path, claimed: Path, rules: GateRules) -> RedropStory | None:
    """What the drop mends: told by our record of the return, taken along or still lying in the dropped folder."""
    record = handed.read(claimed / SUPERSEDED) or handed.read(root)
    if record is None:
        return None
    ours = our_own_reports(root)
    with disk_step("could not read a claimed file", shown(root)):
        now = [(path, proof_of(root / path).sha256) for path in files_under(root) if path not in ours]
    return story(record, now, rules.maps)
