"""COMMIT 1: files leave the inbox for the work folder.

The ticket is written first, so that every file on its way is accounted for; `take` may then be repeated after a crash at
any place until all of them stand under claimed/<ticket>/. On one volume a file moves in one step. From another volume,
or when other names hold on to it (hard links), it is copied, proven, and only then removed.
"""

from __future__ import annotations

import contextlib
import os
import stat
from collections.abc import Sequence
from pathlib import Path

from tidegate.errors import GateFault, PermanentFault, TransientFault

from . import durable, ticket
from .faults import Changed, NameTaken, disk_step, fault_of, is_absent, shown
from .layout import Layout
from .proof import proof_of
from .scan import files_under, look_at_folder
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
    copied: list[Move] = []
    try:
        _take_completed(taken, layout)
        made = [folder for target in _targets(taken, home) for folder in durable.make_folders_loosely(target)]
        for folder in sorted({folder.parent for folder in made}):
            durable.sync_folder(folder)  # before the moves: a file must not move into a folder that may not last
        _remove_parts(home)
        at = {move: os.path.join(home, move.to) for move in taken.moves}
        for move in taken.moves:
            if _bring(move, at[move]):
                copied.append(move)
        _refuse_latecomers(taken, layout, rules)
        for move in taken.moves:
            _refuse_changed(move, at[move])
        _sync(taken, home)
        while copied:
            _refuse_changed_source(copied[-1], home / copied[-1].to)
            _remove_source(copied.pop())  # from here on the copy may be the only one
    except GateFault as fault:
        _forget_copies(copied, home)
        if isinstance(fault, Changed):
            give_back(taken, layout)
        raise
    leave_inbox(taken)


def give_back(taken: Ticket, layout: Layout) -> None:
    """Move everything back to where it came from, then tear up the ticket. May be repeated after a crash.

    Where a new file has the old name meanwhile, the older one comes back as `<stem>~<ticket><suffix>` beside it.
    Raises TransientFault, with nothing given back, while the inbox is not there, or the tree of a returned prop that was
    taken along.
    """
    home = layout.claimed_folder(taken.ticket)
    _require_inbox(layout.paths.inbox)
    _require_returned(taken, layout)
    for move in taken.moves:
        claimed, source = home / move.to, Path(move.source)
        if _looked_at(claimed) is None:
            continue
        if _is_file(source) and _same(claimed, source):
            durable.remove_file(claimed)  # a copy whose source was not removed yet, or given back by an earlier try
            continue
        durable.make_folders(source.parent)
        _move_anywhere(claimed, source, taken.ticket)
        durable.sync_folder(source.parent)
    _give_completed_back(taken, layout)
    _remove_parts(home)
    _remove_empty(home)
    durable.remove_file(layout.ticket_file(taken.ticket))
    durable.sync_folder(layout.tickets)


def leave_inbox(taken: Ticket) -> None:
    """Remove the folders that the moves emptied, never the inbox or a tree itself. May be repeated.

    Not synced: an empty folder that a power cut brings back is no drop.
    """
    tops = {taken.home} if taken.kind == "folder" else set()
    tops |= {os.path.dirname(move.source) for move in taken.moves if not move.source.startswith(taken.home + os.sep)}
    for top in sorted(tops):
        _remove_empty(top)


def complete(taken: Ticket, layout: Layout) -> bool:
    """Whether every file of the ticket stands under the claimed folder and none of them in the inbox."""
    home = layout.claimed_folder(taken.ticket)
    return all(_looked_at(os.path.join(home, move.to)) and not _is_as_seen(move) for move in taken.moves)


def let_go(paths: Sequence[str], home: Path) -> None:
    """Remove files of a claim, each proven elsewhere, and the folders that are then empty. Not synced.

    paths: relative to the claimed folder.
    """
    for path in paths:
        durable.remove_file(os.path.join(home, path))
    _remove_empty(home)


def _bring(move: Move, target: str) -> bool:
    """Bring one file under the claim. True when it is a copy whose source still has to go."""
    source, folder = move.source, os.path.dirname(target)
    if _looked_at(target):
        if not _is_as_seen(move) and _is_file(source) and _same(target, source):
            raise _changed(source, "it was being given back when an earlier try ended")
        return _is_as_seen(move)
    if not _is_as_seen(move):
        raise _changed(source, "it is another file now, or gone")
    with disk_step("could not look at the work folder", folder):
        one_volume = os.stat(folder).st_dev == move.device
    try:
        if one_volume and move.links == 1:
            durable.move_new(source, target)
            return False
        durable.copy_file(source, target)
    except TransientFault:
        if not _is_as_seen(move):
            raise _changed(source, "it changed or vanished just then") from None
        raise
    return True


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
    folders += [(layout.taken(taken.ticket), GateRules(partial=(), litter=()))] if taken.completes else []
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
    _require_returned(taken, layout)
    away, folder = layout.taken(taken.ticket), Path(taken.completes)
    if away.is_dir() or any((layout.claimed_folder(taken.ticket) / move.to).exists() for move in taken.moves):
        return  # an earlier try did it
    if not folder.is_dir():
        raise _changed(folder, "the returned prop that it completes is gone")
    durable.make_folders(away.parent)
    durable.move_new(folder, away)
    durable.sync_folder(away.parent)
    durable.sync_folder(folder.parent)


def _require_returned(taken: Ticket, layout: Layout) -> None:
    """A folder that was taken along is not gone because its tree is: without the ticket nobody would ever find it."""
    if taken.completes:
        with disk_step("could not look at a tree of the gate", layout.paths.returned):
            layout.require(layout.paths.returned)


def _require_inbox(inbox: Path) -> None:
    """An inbox that is gone is one whose volume is not mounted: what is given back must not end up below its mount point."""
    if not _is_folder(inbox):
        raise TransientFault(
            "the inbox is gone",
            path=shown(inbox),
            expected="the folder that the drop came from",
            came="no such folder",
            done="nothing was given back; the drop stays claimed",
            help="mount it again, or make the folder anew",
        )


def _give_completed_back(taken: Ticket, layout: Layout) -> None:
    """Move it back under its name; under a free one beside it where that was taken meanwhile."""
    away = layout.taken(taken.ticket)
    if not taken.completes:
        return
    if not _is_folder(away):
        _require_returned(taken, layout)  # it went meanwhile, and what was taken along with it?
        return
    _move_anywhere(away, Path(taken.completes), taken.ticket)
    durable.sync_folder(Path(taken.completes).parent)
    durable.sync_folder(away.parent)


def _refuse_changed_source(move: Move, target: Path) -> None:
    source = Path(move.source)
    if not _is_as_seen(move) or not _same(target, source):
        raise _changed(source, "it changed after it was copied")


def _remove_source(move: Move) -> None:
    source = Path(move.source)
    durable.remove_file(source)
    durable.sync_folder(source.parent)


def _forget_copies(copied: list[Move], home: Path) -> None:
    """Remove copies whose source we never removed and somebody else has changed, renamed or removed since.

    Given back, such a copy would stand beside what became of its source as a second drop.
    """
    for move in copied:
        if not _is_as_seen(move):
            with contextlib.suppress(GateFault):
                durable.remove_file(home / move.to)


def _remove_parts(home: Path) -> None:
    """Remove copies into the claim that were cut short: each one's source is still there."""
    for path in files_under(home):
        if os.path.basename(path).startswith(durable.PART):
            durable.remove_file(os.path.join(home, path))


def _remove_empty(folder: Path | str) -> None:
    """Remove a folder if nothing but empty folders is in it; what holds something stays."""
    if not os.path.isdir(folder) or os.path.islink(folder):
        return
    with disk_step("could not list a folder", folder), os.scandir(folder) as entries:
        inner = sorted(entry.path for entry in entries if entry.is_dir(follow_symlinks=False))
    for path in inner:
        _remove_empty(path)
    durable.remove_folder(folder)


def _sync(taken: Ticket, home: Path) -> None:
    """Make the new names durable, then the leaving of the old ones."""
    for folder in _targets(taken, home):
        durable.sync_folder(folder)
    for folder in sorted({os.path.dirname(move.source) for move in taken.moves}):
        if os.path.isdir(folder):
            durable.sync_folder(folder)


def _targets(taken: Ticket, home: Path) -> list[str]:
    """The folders that the files go into."""
    return sorted({os.path.dirname(os.path.join(home, move.to)) for move in taken.moves})


def _move_anywhere(claimed: Path, source: Path, ticket_id: str) -> None:
    names = [source, source.with_name(f"{source.stem[:150]}~{ticket_id}{source.suffix}")]
    names += [source.with_name(f"{source.stem[:150]}~{ticket_id}-{n}{source.suffix}") for n in range(2, 100)]
    with disk_step("could not look at a folder to give files back to", source.parent):
        one_volume = source.parent.stat().st_dev == claimed.lstat().st_dev
    for name in names:
        try:
            if one_volume:
                durable.move_new(claimed, name)
            else:
                durable.copy_file(claimed, name)
                durable.sync_folder(name.parent)
                durable.remove_file(claimed)
        except NameTaken:
            continue
        return
    raise PermanentFault(
        "no free name to give a file back under", path=shown(source), done="it stays claimed", help="tidy the inbox"
    )


def _is_as_seen(move: Move) -> bool:
    there = _looked_at(move.source)
    return there is not None and (there.st_size, there.st_mtime_ns, there.st_ino, there.st_dev) == (
        move.bytes,
        move.mtime,
        move.inode,
        move.device,
    )


def _is_folder(path: Path) -> bool:
    with disk_step("could not look at a folder", path):
        return path.is_dir()


def _is_file(path: Path | str) -> bool:
    there = _looked_at(path)
    return there is not None and stat.S_ISREG(there.st_mode)


def _looked_at(path: Path | str) -> os.stat_result | None:
    """None where there is no such file. What merely cannot be seen just now is not gone: that raises a GateFault."""
    try:
        return os.lstat(path)
    except OSError as error:
        if is_absent(error):
            return None
        raise fault_of(error, "could not look at a file of a drop", path) from error


def _same(first: Path | str, second: Path | str) -> bool:
    with disk_step("could not read a file to compare it", first):
        return proof_of(first) == proof_of(second)


def _changed(path: Path | str, came: str) -> Changed:
    return Changed(
        "a drop changed while it was claimed",
        path=shown(path),
        came=came,
        done="everything of it was put back and waits until it has settled",
        help="let copying finish; nothing else is needed",
    )
