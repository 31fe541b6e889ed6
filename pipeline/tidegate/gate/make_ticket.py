"""From a settled drop to its ticket. Reads the returned tree, changes nothing."""

from __future__ import annotations

import secrets
from collections.abc import Sequence
from datetime import UTC, datetime
from pathlib import Path, PurePosixPath

from . import handed
from .grouping import SeenDrop, suffix
from .handed import Handed
from .layout import Layout
from .manifest import MANIFEST
from .redrop import ReturnedProps, completes, place_in
from .scan import SeenFile, look_at_folder
from .settings import GateRules
from .ticket import ARCHIVE, DROP, SUPERSEDED, Move, Ticket


def new_ticket_id(now: datetime) -> str:
    """Sorts by time to the second, and never twice the same by chance: `20261125T120347Z-5f0c91`."""
    return f"{now.astimezone(UTC):%Y%m%dT%H%M%SZ}-{secrets.token_hex(3)}"


def rfc3339(now: datetime) -> str:
    return f"{now.astimezone(UTC):%Y-%m-%dT%H:%M:%SZ}"


def make_ticket(
    drop: SeenDrop, layout: Layout, rules: GateRules, returned: ReturnedProps, missing: Sequence[str], now: datetime
) -> Ticket:
    """The ticket for a drop that has settled. missing: textures its meshes name that did not come."""
    inbox = layout.paths.inbox
    name, completed = drop.name, ""
    ticket_id = new_ticket_id(now)
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
        names = [file.path for file in drop.files]
        fit = completes(
            names,
            with_mesh=any(suffix(path) in rules.meshes for path in names),
            missing=missing,
            gate=layout.paths.name,
            returned=returned,
        )
        if fit:
            name, completed = fit[1].drop, str(fit[0])
            moves = _taken_along(*fit, set(names), name, layout.taken(ticket_id))
        moves += [
            _move(inbox / file.path, f"{DROP}/{name}/{place_in(fit[1], file.path) if fit else file.path}", file)
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
        completes=completed,
    )


def _taken_along(folder: Path, record: Handed, dropped: set[str], name: str, taken: Path) -> list[Move]:
    """Moves for everything in a returned prop's folder: its files into the drop, what they replace and our own aside.

    taken: where the folder will stand by then.
    """
    ours = {path for path, _ in record.sidecars} | {handed.RECORD, MANIFEST}
    moves = []
    for file in look_at_folder(folder, "", GateRules(partial=(), litter=())):
        path = file.path.lstrip("/")
        stays = path not in ours and PurePosixPath(path).name not in dropped
        moves.append(_move(taken / path, f"{DROP}/{name}/{path}" if stays else f"{SUPERSEDED}/{path}", file))
    return moves


def _aside_ready(move: Move, rules: GateRules) -> Move:
    """The ready file is a signal, not part of the prop; it is kept with what was superseded."""
    return Move(
        move.source, f"{SUPERSEDED}/{rules.ready_file}", move.bytes, move.mtime, move.device, move.inode, move.links
    )


def _move(source: Path, to: str, file: SeenFile) -> Move:
    return Move(str(source), to, file.bytes, file.mtime, file.device, file.inode, file.links)
