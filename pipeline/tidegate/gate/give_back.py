"""A claimed drop goes back to where it came from: it changed while it was claimed, or the gate stops before it is judged.

Two drops never mix on the way back. Where a new file has the name of an old one meanwhile, the old one goes into a
folder of its own in the inbox, `<drop>~<ticket>`, under its own name. Each step may be repeated after a crash.
"""

from __future__ import annotations

import contextlib
import itertools
import os
import re
from collections.abc import Iterable, Iterator
from dataclasses import replace
from pathlib import Path

from tidegate.errors import GateFault, PermanentFault, TransientFault

from . import durable, handed, ticket
from .claim_looks import (
    is_as_seen,
    is_file,
    is_folder,
    looked_at,
    remove_empty,
    remove_parts,
    require_returned,
    same,
    taken_folder,
)
from .faults import NameTaken, disk_step, shown
from .layout import Layout
from .proof import CHUNK
from .scan import look_at_folder
from .settings import GateRules
from .ticket import Move, Ticket

_PART = re.compile(re.escape(durable.PART) + "[0-9a-f]{16}")


def put_back(taken: Ticket, layout: Layout, rules: GateRules) -> None:
    """Give a drop back that nobody has changed.

    Raises TransientFault, with nothing given back, where its place in the inbox is in use again: given back, the old
    drop and the new one would become one. It stays claimed, and whoever goes on with it comes to its verdict.
    """
    if path := _in_use(taken, layout, rules):
        raise TransientFault(
            "its name is in use in the inbox again",
            path=shown(path),
            expected="no file there, since the drop was taken",
            came="a file of a newer drop",
            done="it stays claimed, so that the two drops do not mix",
            help="nothing is needed: it is judged when the gate goes on, and the newer drop by itself",
        )
    give_back(taken, layout)


def give_back(taken: Ticket, layout: Layout) -> None:
    """Move everything back to where it came from, then tear up the ticket. May be repeated after a crash.

    Raises TransientFault, with nothing given back, while the inbox is not there, or the tree of a returned prop that was
    taken along.
    """
    home = layout.claimed_folder(taken.ticket)
    _require_inbox(layout.paths.inbox)
    require_returned(taken, layout)
    settle_hidden(taken, layout)
    for part in own_parts(taken, layout):
        durable.remove_file(part)
    for move in taken.moves:
        claimed = home / move.to
        if looked_at(claimed) is None:
            continue
        if there := given_back(move, taken, layout):
            durable.sync_folder(there.parent)  # from here on it is the only one
            durable.remove_file(claimed)  # a copy whose source was not removed yet, or given back by an earlier try
            continue
        _move_to_first_free(claimed, _places(move, taken, layout), _stays(move, taken, layout))
    _give_completed_back(taken, layout)
    remove_parts(home)
    remove_empty(home)
    durable.remove_file(layout.ticket_file(taken.ticket))
    durable.sync_folder(layout.tickets)


def given_back(move: Move, taken: Ticket, layout: Layout) -> Path | None:
    """Where an earlier try has copied a claimed file to. Raises GateFault where it cannot be read."""
    claimed = layout.claimed_folder(taken.ticket) / move.to
    places = itertools.islice(_places(move, taken, layout), 2)
    return next((place for place in places if is_file(place) and same(claimed, place)), None)


def put_under_its_name(hidden: Path | str, move: Move, taken: Ticket, layout: Layout) -> None:
    """A source that had been hidden to be removed stands under its name again, or a free one beside it."""
    _move_to_first_free(Path(hidden), _places(move, taken, layout), _stays(move, taken, layout))


def settle_hidden(taken: Ticket, layout: Layout) -> None:
    """Sources that a crash left hidden: removed where the copy has its own name, else under their names again."""
    home = layout.claimed_folder(taken.ticket)
    for move in taken.moves:
        hidden = ticket.hidden(taken, move)
        if looked_at(hidden) is None:
            continue
        if looked_at(home / move.to) is not None and same(home / move.to, hidden):
            durable.remove_file(hidden)
        else:
            put_under_its_name(hidden, move, taken, layout)


def put_taken_back(away: Path) -> Path | None:
    """Move a returned prop that was taken along, and whose ticket is lost, back under its name, or a free one beside it.

    None where no file was left in it. May be repeated.
    """
    remove_empty(away)
    if not is_folder(away):
        return None
    with disk_step("could not read the record of a returned prop", away):
        record = handed.read(away, raising=True)
    name = f"{record.prop}-{record.ticket}" if record else away.name
    tree = away.parents[2]
    at = _move_to_first_free(away, _numbered(tree / name, away.name), tree)
    durable.sync_folder(away.parent)
    return at


def own_parts(taken: Ticket, layout: Layout) -> list[Path]:
    """Copies on the way back that a crash cut short, outside the work folder.

    Only what is ours for certain: the name is of our making, the ticket tells that a file goes back to that folder, the
    claim still has that file, and what the part holds is how the file begins. Sources that are hidden to be removed are none.
    """
    home = layout.claimed_folder(taken.ticket)
    sources = {ticket.hidden(taken, move) for move in taken.moves}
    goes_to: dict[Path, list[Path]] = {}
    for move in taken.moves:
        for place in itertools.islice(_places(move, taken, layout), 2):
            goes_to.setdefault(place.parent, []).append(home / move.to)
    found = []
    for folder, files in goes_to.items():
        for name in _names_in(folder):
            part = folder / name
            if str(part) in sources:
                continue
            if _PART.fullmatch(name) and is_file(part) and any(is_file(f) and _begins_as(part, f) for f in files):
                found.append(part)
    return sorted(found)


def _in_use(taken: Ticket, layout: Layout, rules: GateRules) -> str:
    """A file where the drop came from that is not one of its own, "" for none."""
    home = layout.claimed_folder(taken.ticket)
    own = set()
    there = []
    for move in taken.moves:
        if looked_at(move.source) is None:
            continue
        there.append(move.source)
        claimed = home / move.to
        if is_as_seen(move) or (is_file(claimed) and is_file(move.source) and same(claimed, move.source)):
            own.add(move.source)
    if taken.kind == "folder":
        folder = Path(taken.home)
        seen = look_at_folder(folder, folder.name, replace(rules, partial=()))
        there += [str(folder.parent / file.path) for file in seen]
    return next((path for path in there if path not in own), "")


def _require_inbox(inbox: Path) -> None:
    """An inbox that is gone is one whose volume is not mounted: what is given back must not end up below its mount point."""
    if not is_folder(inbox):
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
    if not taken.completes:
        return
    away = taken_folder(taken, layout)
    if not is_folder(away):
        require_returned(taken, layout)  # it went meanwhile, and what was taken along with it?
        return
    place = Path(taken.completes)
    _move_to_first_free(away, _numbered(place, taken.ticket), place.parent)
    durable.sync_folder(away.parent)


def _stays(move: Move, taken: Ticket, layout: Layout) -> Path:
    """The folder above the places of a file that is there as long as their volume is."""
    return taken_folder(taken, layout).parent if _is_of_completed(move, taken, layout) else layout.paths.inbox


def _is_of_completed(move: Move, taken: Ticket, layout: Layout) -> bool:
    return bool(taken.completes) and Path(move.source).is_relative_to(taken_folder(taken, layout))


def _places(move: Move, taken: Ticket, layout: Layout) -> Iterator[Path]:
    """Where a claimed file may go back to, best first. A file of a returned prop goes back to that, and nowhere else."""
    source, inbox = Path(move.source), layout.paths.inbox
    if _is_of_completed(move, taken, layout):
        yield from _numbered(source, taken.ticket)
        return
    yield source
    within = source.relative_to(taken.home) if source.is_relative_to(taken.home) else Path(source.name)
    beside = inbox / f"{_short(taken.drop)}~{taken.ticket}"
    yield beside / within
    for number in range(2, 100):
        yield beside.with_name(f"{beside.name}-{number}") / within


def _numbered(path: Path, ticket_id: str) -> Iterator[Path]:
    """The path, then free names beside it."""
    yield path
    stem = f"{_short(path.stem)}~{ticket_id}"
    yield path.with_name(stem + path.suffix)
    for number in range(2, 100):
        yield path.with_name(f"{stem}-{number}{path.suffix}")


def _short(name: str) -> str:
    """So much of a name that there is room for the ticket behind it: names end at 255 bytes on most file systems."""
    return os.fsencode(name)[:150].decode("utf-8", "ignore")


def _move_to_first_free(source: Path, places: Iterable[Path], stays: Path) -> Path:
    """Move a file or folder of ours onto the first of the names that is free, from another volume by a copy.

    stays: a folder above the places that is never made anew: where it is gone, its volume is.
    """
    first = None
    for place in places:
        first = first or place
        try:
            durable.make_folders(place.parent, below=stays)
        except PermanentFault:
            continue  # a file has the name of the folder by now
        with disk_step("could not look at a folder to give files back to", place.parent):
            one_volume = place.parent.stat().st_dev == source.lstat().st_dev
        try:
            if one_volume:
                durable.move_new(source, place)
            else:
                durable.copy_file(source, place)
                durable.sync_folder(place.parent)
                _remove_or_undo(source, place)
        except NameTaken:
            continue
        durable.sync_folder(place.parent)
        return place
    raise PermanentFault(
        "no free name to give a file back under",
        path=shown(first or source),
        done="it stays claimed",
        help="tidy that folder",
    )


def _remove_or_undo(source: Path, copy: Path) -> None:
    """Remove a file of ours that was copied. Where it cannot be removed its copy goes again, while it still has that name: the
    next try could not tell a copy that somebody renamed from none."""
    try:
        durable.remove_file(source)
    except GateFault:
        with contextlib.suppress(GateFault):
            if is_file(source) and is_file(copy) and same(source, copy):
                durable.remove_file(copy)
        raise


def _names_in(folder: Path) -> list[str]:
    with disk_step("could not list a folder", folder):
        try:
            return sorted(os.listdir(folder))
        except (FileNotFoundError, NotADirectoryError):
            return []


def _begins_as(part: Path, whole: Path) -> bool:
    with disk_step("could not read a file to compare it", part), part.open("rb") as one, whole.open("rb") as two:
        while data := one.read(CHUNK):
            if two.read(len(data)) != data:
                return False
    return True
