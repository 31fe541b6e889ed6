"""COMMIT 1: files leave the inbox for the work folder.

The ticket is written first, so that every file on its way is accounted for; `take` may then be repeated after a crash at
any place until all of them stand under claimed/<ticket>/. On one volume a file moves in one step. From another volume,
or when other names hold on to it (hard links), it is copied and proven under the name of a part. Then the source gets a
name that nobody else knows (`ticket.hidden`), is compared once more, the copy gets its own name, and the source goes. So
what is compared and removed is one file, and a copy under its own name is one whose source nobody can change any more.
"""

from __future__ import annotations

import contextlib
import os
from collections.abc import Mapping, Sequence
from dataclasses import replace
from pathlib import Path

from tidegate.errors import GateFault, TransientFault

from . import durable, ticket
from .claim_looks import (
    is_as_seen,
    looked_at,
    remove_empty,
    remove_parts,
    require_returned,
    same,
    taken_folder,
)
from .faults import Changed, disk_step, shown
from .give_back import give_back as give_back
from .give_back import given_back, put_under_its_name, settle_hidden
from .layout import Layout
from .scan import look_at_folder
from .settings import GateRules
from .ticket import Move, Ticket


def claim(taken: Ticket, layout: Layout, rules: GateRules) -> None:
    """Write the ticket, then take the files. Raises Changed when the drop went back to settling."""
    durable.write_file(layout.ticket_file(taken.ticket), ticket.to_bytes(taken))
    take(taken, layout, rules)


def take(taken: Ticket, layout: Layout, rules: GateRules) -> None:
    """Bring every file of the ticket under the claimed folder, whatever an earlier try has done of it.

    Raises Changed, after everything was given back, when a file changed, vanished or came on top meanwhile. Other
    GateFaults leave things as they are: the step may be repeated, or `give_back` called.
    """
    home = layout.claimed_folder(taken.ticket)
    copies: dict[Move, str] = {}
    try:
        _take_completed(taken, layout)
        made = [folder for target in _targets(taken, home) for folder in _make(target, layout)]
        for folder in sorted({folder.parent for folder in made}):
            durable.sync_folder(folder)  # before the moves: a file must not move into a folder that may not last
        remove_parts(home)
        if not made:
            settle_hidden(taken, layout)  # of an earlier try
        at = {move: os.path.join(home, move.to) for move in taken.moves}
        for move in taken.moves:
            if (there := _bring(move, at[move], taken, layout)) is not None:
                copies[move] = there
        _refuse_latecomers(taken, layout, rules)
        for move in taken.moves:
            _refuse_changed(move, copies.get(move, at[move]))
        for move, copy in copies.items():
            _hide(move, copy, taken, layout)
            if copy != at[move]:
                durable.move_new(copy, at[move])
        _sync(taken, home)
        _remove_hidden(copies, taken)
    except GateFault as fault:
        _forget_copies(copies, taken, layout)
        if isinstance(fault, Changed):
            give_back(taken, layout)
        raise
    leave_inbox(taken)


def leave_inbox(taken: Ticket) -> None:
    """Remove the folders that the moves emptied, never the inbox or a tree itself. May be repeated.

    Not synced: an empty folder that a power cut brings back is no drop.
    """
    tops = {taken.home} if taken.kind == "folder" else set()
    tops |= {os.path.dirname(move.source) for move in taken.moves if not move.source.startswith(taken.home + os.sep)}
    for top in sorted(tops):
        remove_empty(top)


def complete(taken: Ticket, layout: Layout) -> bool:
    """Whether every file of the ticket stands under the claimed folder and none of them in the inbox."""
    home = layout.claimed_folder(taken.ticket)
    return all(
        looked_at(os.path.join(home, move.to)) and not is_as_seen(move) and not looked_at(ticket.hidden(taken, move))
        for move in taken.moves
    )


def let_go(paths: Sequence[str], home: Path) -> None:
    """Remove files of a claim, each proven elsewhere, and the folders that are then empty. Not synced.

    paths: relative to the claimed folder.
    """
    for path in paths:
        durable.remove_file(os.path.join(home, path))
    remove_empty(home)


def _bring(move: Move, target: str, taken: Ticket, layout: Layout) -> str | None:
    """Bring one file under the claim. Where it now stands as a copy whose source still has to go, None where it moved."""
    source, folder = move.source, os.path.dirname(target)
    if looked_at(target):
        if not is_as_seen(move) and (there := given_back(move, taken, layout)):
            raise _changed(there, "it was being given back when an earlier try ended")
        return target if is_as_seen(move) else None
    if not is_as_seen(move):
        raise _changed(source, "it is another file now, or gone")
    with disk_step("could not look at the work folder", folder):
        one_volume = os.stat(folder).st_dev == move.device
    part = durable.part_beside(target)
    try:
        if one_volume and move.links == 1:
            durable.move_new(source, target)
            return None
        durable.copy_new(source, part)
    except TransientFault:
        if not is_as_seen(move):
            raise _changed(source, "it changed or vanished just then") from None
        raise
    return part


def _refuse_changed(move: Move, target: str) -> None:
    source = move.source
    with disk_step("could not look at a claimed file", target):
        there = os.lstat(target)
    if there.st_size != move.bytes:
        raise _changed(source, f"it had {move.bytes} bytes and has {there.st_size} now")
    moved = (there.st_dev, there.st_ino) == (move.device, move.inode)
    if moved and there.st_mtime_ns != move.mtime:
        raise _changed(source, "it was written to while it was claimed")


def _refuse_latecomers(taken: Ticket, layout: Layout, rules: GateRules) -> None:
    """A file that came into the folder after it settled: the drop was not whole."""
    folders = [(Path(taken.home), rules)] if taken.kind == "folder" else []
    folders += [(taken_folder(taken, layout), GateRules(partial=(), litter=()))] if taken.completes else []
    expected = {move.source for move in taken.moves}
    for home, by_rules in folders:
        for file in look_at_folder(home, home.name, by_rules):
            path = home.parent / file.path
            if str(path) not in expected:
                raise _changed(path, "it came while the rest was claimed")


def _take_completed(taken: Ticket, layout: Layout) -> None:
    """Move the returned prop's folder out of sight in one step, so that nobody sees it half taken."""
    if not taken.completes:
        return
    require_returned(taken, layout)
    away, folder = taken_folder(taken, layout), Path(taken.completes)
    if away.is_dir() or any((layout.claimed_folder(taken.ticket) / move.to).exists() for move in taken.moves):
        return  # an earlier try did it
    if not folder.is_dir():
        raise _changed(folder, "the returned prop that it completes is gone")
    durable.make_folders(away.parent, below=away.parents[2])
    durable.move_new(folder, away)
    durable.sync_folder(away.parent)
    durable.sync_folder(folder.parent)


def _hide(move: Move, copy: str, taken: Ticket, layout: Layout) -> None:
    """Give a copied source the name that it is removed by. Raises Changed where it is not what was copied."""
    source, hidden = Path(move.source), ticket.hidden(taken, move)
    try:
        durable.rename_own(source, hidden)
    except GateFault:
        if not is_as_seen(move):
            raise _changed(source, "it changed or vanished just then") from None
        raise
    if not is_as_seen(replace(move, source=hidden)) or not same(copy, hidden):
        put_under_its_name(hidden, move, taken, layout)
        raise _changed(source, "it changed after it was copied")


def _remove_hidden(copies: dict[Move, str], taken: Ticket) -> None:
    """Remove the sources. From here on each copy is the only one, and no longer among `copies`."""
    folders = sorted({os.path.dirname(move.source) for move in copies})
    for move in list(copies):
        hidden = ticket.hidden(taken, move)
        try:
            durable.remove_file(hidden)
        finally:
            if looked_at(hidden) is None:  # also where that failed after it had been done
                del copies[move]
    for folder in folders:
        durable.sync_folder(folder)


def _forget_copies(copies: Mapping[Move, str], taken: Ticket, layout: Layout) -> None:
    """Undo what was copied and whose source is not removed: it stands under its name again, or what people made of it does.

    Where that fails too, the next try finds what is left (`settle_hidden`).
    """
    home = layout.claimed_folder(taken.ticket)
    for move, copy in copies.items():
        with contextlib.suppress(GateFault):
            hidden = ticket.hidden(taken, move)
            if looked_at(hidden):
                put_under_its_name(hidden, move, taken, layout)
            durable.remove_file(copy)
            durable.remove_file(os.path.join(home, move.to))


def _sync(taken: Ticket, home: Path) -> None:
    """Make the new names durable, then the leaving of the old ones."""
    for folder in _targets(taken, home):
        durable.sync_folder(folder)
    for folder in sorted({os.path.dirname(move.source) for move in taken.moves}):
        if os.path.isdir(folder):
            durable.sync_folder(folder)


def _make(target: str, layout: Layout) -> list[Path]:
    """Folders of a claim. The work folder's volume may go away any moment: nothing is moved to a place made anew."""
    return durable.make_folders_loosely(target, below=layout.claimed)


def _targets(taken: Ticket, home: Path) -> list[str]:
    """The folders that the files go into."""
    return sorted({os.path.dirname(os.path.join(home, move.to)) for move in taken.moves})


def _changed(path: Path | str, came: str) -> Changed:
    return Changed(
        "a drop changed while it was claimed",
        path=shown(path),
        came=came,
        done="everything of it was put back and waits until it has settled",
        help="let copying finish; nothing else is needed",
    )
