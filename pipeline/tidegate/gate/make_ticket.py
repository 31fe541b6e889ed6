"""From a settled drop to its ticket. Reads the gate's trees, changes nothing."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import UTC, datetime
from pathlib import Path

from . import handed
from .faults import disk_step
from .grouping import SeenDrop, suffix
from .handed_before import HandedBefore
from .in_hand import props_in_hand
from .layout import Layout
from .manifest import MANIFEST
from .names import same_to_some
from .redrop import Completion, Dropped, completes
from .returned import ReturnedProp
from .scan import SeenFile, look_at_folder
from .settings import GateRules
from .ticket import ARCHIVE, DROP, SUPERSEDED, Move, Ticket


def rfc3339(now: datetime) -> str:
    return f"{now.astimezone(UTC):%Y-%m-%dT%H:%M:%SZ}"


def make_ticket(
    drop: SeenDrop,
    layout: Layout,
    rules: GateRules,
    before: HandedBefore,
    missing: Sequence[str],
    now: datetime,
    in_hand: Iterable[Ticket] = (),
) -> Ticket:
    """The ticket for a drop that has settled. missing: textures its meshes name that did not come.

    in_hand: tickets that are not handed over yet. Raises GateFault where it cannot be told what a mended file completes.
    """
    inbox = layout.paths.inbox
    name, completion = drop.name, Completion()
    ticket_id = before.ids.new(now)
    moves: list[Move] = []
    if drop.kind == "folder":
        ready = f"{name}/{rules.ready_file}"
        moves = [_move(inbox / file.path, f"{DROP}/{file.path}", file) for file in drop.files]
        moves = [
            _aside_ready(move, rules) if file.path == ready else move
            for move, file in zip(moves, drop.files, strict=True)
        ]
    elif drop.kind == "archive":
        moves = [_move(inbox / file.path, f"{ARCHIVE}/{file.path}", file) for file in drop.files]
    else:
        completion = _completion(drop, layout, rules, before, missing, in_hand)
        if completion.of:
            name = completion.of.record.drop
            moves = _taken_along(completion.of, completion, name, layout.taken(ticket_id))
        moves += [
            _move(inbox / file.path, f"{DROP}/{name}/{completion.places.get(file.path, file.path)}", file)
            for file in drop.files
        ]
    return Ticket(
        ticket=ticket_id,
        gate=layout.paths.name,
        owner=layout.paths.owner,
        drop=name,
        kind=drop.kind,
        home=str(inbox / drop.name if drop.kind == "folder" else inbox),
        claimed_at=rfc3339(now),
        moves=tuple(moves),
        left_behind=drop.odd,
        completes=str(completion.of.folder) if completion.of else "",
        near=completion.near,
    )


def _completion(
    drop: SeenDrop,
    layout: Layout,
    rules: GateRules,
    before: HandedBefore,
    missing: Sequence[str],
    in_hand: Iterable[Ticket],
) -> Completion:
    names = tuple(file.path for file in drop.files)
    with_mesh = any(suffix(name) in rules.meshes for name in names)
    if with_mesh and not missing:
        return Completion()
    for tree in (layout.paths.returned, layout.paths.delivery):
        with disk_step("could not look at a tree of the gate", tree):
            layout.require(tree)  # what is not mounted is not empty
    dropped = Dropped(names, with_mesh, tuple(missing), rules.meshes, rules.maps)
    return completes(dropped, layout.paths.name, before, props_in_hand(in_hand, rules.meshes))


def _taken_along(each: ReturnedProp, completion: Completion, name: str, taken: Path) -> list[Move]:
    """Moves for everything in a returned prop's folder: its files into the drop, what they replace and our own aside.

    taken: where the folder will stand by then.
    """
    ours = {path for path, _ in each.record.sidecars} | {handed.RECORD, MANIFEST}
    replaced = {same_to_some(path) for path in (*completion.places.values(), *completion.instead)}
    moves = []
    for file in look_at_folder(each.folder, "", GateRules(partial=(), litter=())):
        path = file.path.lstrip("/")
        stays = path not in ours and same_to_some(path) not in replaced
        moves.append(_move(taken / path, f"{DROP}/{name}/{path}" if stays else f"{SUPERSEDED}/{path}", file))
    return moves


def _aside_ready(move: Move, rules: GateRules) -> Move:
    """The ready file is a signal, not part of the prop; it is kept with what was superseded."""
    return Move(
        move.source, f"{SUPERSEDED}/{rules.ready_file}", move.bytes, move.mtime, move.device, move.inode, move.links
    )


def _move(source: Path, to: str, file: SeenFile) -> Move:
    return Move(str(source), to, file.bytes, file.mtime, file.device, file.inode, file.links)
