"""Deliberate bugs to put into the gate before a run. See teeth.py for what each proves."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

from tidegate.gate import claim, durable, give_back, hand_over, handing, publish, recover, ticket


def file_fsync_left_out() -> None:
    real = durable.os.fsync

    def only_folders(descriptor: int) -> None:
        if Path(f"/proc/self/fd/{descriptor}").resolve().is_dir():
            real(descriptor)

    durable.os.fsync = only_folders


def folder_fsync_left_out() -> None:
    durable.sync_folder = lambda path: None


def removal_before_proof() -> None:
    real = hand_over._entry

    def entry(number: int, part: Any, taken: Any, layout: Any, now: Any) -> Any:
        made = real(number, part, taken, layout, now)
        for source in part.sources:
            durable.remove_file(source.at)
        return made

    hand_over._entry = entry


def ticket_after_move() -> None:
    def late(taken: Any, layout: Any, rules: Any) -> None:
        claim.take(taken, layout, rules)
        durable.write_file(layout.ticket_file(taken.ticket), ticket.to_bytes(taken))

    claim.claim = late


def replace_allowed() -> None:
    counts_from_one()
    durable.move_new = lambda source, target: Path(source).rename(target)


def counts_from_one() -> None:
    """No bug yet: what a second gate sees that counted before the first one delivered. The free-name move decides."""
    real = publish._names

    def names(entry: Any, folder: Path) -> Any:
        return real(entry, folder) if entry.name else iter([f"v{number:03d}" for number in range(1, 9)])

    publish._names = names


def not_read_back() -> None:
    durable._compare = lambda path, wanted: None


def built_in_place() -> None:
    def entry(number: int, part: Any, taken: Any, layout: Any, now: Any) -> Any:
        made = real(number, part, taken, layout, now)
        if made.name or made.same_as:
            return made
        at = Path(made.folder) / "v001"
        durable.make_folders(at)
        for path in sorted(Path(made.staging).iterdir()):
            path.rename(at / path.name)
        Path(made.staging).rmdir()
        return made

    real = hand_over._entry
    hand_over._entry = entry


def moved_piece_by_piece() -> None:
    """As a gate without staging: a folder grows under its last name, its manifest first."""
    real = durable.move_new

    def move(source: Path | str, target: Path | str) -> None:
        if not Path(source).is_dir():
            return real(source, target)
        durable.make_folder(target)
        for path in sorted(Path(source).iterdir(), reverse=True):
            path.rename(Path(target, path.name))
        return Path(source).rmdir()

    durable.move_new = move


def note_after_the_move() -> None:
    real = publish.publish

    def early(note: Any, layout: Any, enter: Any) -> Any:
        file = layout.handing_file(note.ticket)
        data = file.read_bytes()
        durable.remove_file(file)
        placed = tuple(publish._place(entry, layout) for entry in note.entries)
        durable.write_file(file, data)
        assert placed
        return real(handing.read(file), layout, enter)

    hand_over.publish = early


def hidden_sources_forgotten() -> None:
    def forget(taken: Any, layout: Any) -> None: ...

    claim.settle_hidden = give_back.settle_hidden = forget


def no_recovery() -> None:
    recover.plan = lambda layout: ()


TEETH: dict[str, Callable[[], None]] = {
    bug.__name__: bug
    for bug in (
        file_fsync_left_out,
        folder_fsync_left_out,
        removal_before_proof,
        ticket_after_move,
        replace_allowed,
        counts_from_one,
        not_read_back,
        built_in_place,
        moved_piece_by_piece,
        note_after_the_move,
        hidden_sources_forgotten,
        no_recovery,
    )
}
