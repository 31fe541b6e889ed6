"""What a crash left, first as data, then mended. Reads only what is on disk.

    the crash fell                               on disk                               recovery
    -------------------------------------------  ------------------------------------  ------------------------------------
    while the ticket was written                 a part file in tickets/               removes it: nothing had moved
    after the ticket, before the first move      ticket; all files in the inbox        takes them; or tears the ticket up
                                                                                       if one changed meanwhile
    between two moves                            ticket; files in inbox and claim      takes the rest; or gives all back
    while files were copied (other volume,       ticket; part files in the claim       removes the parts, copies again
      hard links)
    after the copies, before their removal       ticket; the file in both places       compares, then removes the inbox one
    while that was removed                       ticket; it has a part's name in the   removes it where the claim has the
                                                   inbox                                 file; else gives its name back, and
                                                                                         takes it again
    while a changed drop was given back          ticket; files in inbox and claim      takes them again; settles by itself
    before a returned prop is moved out of       ticket; the prop in the returned      moves it, takes all
      sight, or after                              tree, or under .tidegate-taken
    after the last move (COMMIT 1), while        ticket; all files in the claim;       removes emptied folders, unpacked and
      unpacking, examining or staging              copies unpacked or staged             staged copies; judged anew
    while the handing note was written           a part file in handing/               as above
    after the note, before or between moves      note; staged folders                  moves those that are left
    after a move, before its folder was synced   note; no staged folder, or again one  finds the folder by its record, reads
                                                                                       every byte; or moves again
    while the claim was let go                   note; ticket; part of the claim       proves, lets the rest go
    after that, before the ticket went           note; ticket; no claim                removes the ticket, enters the ledger
    before the ledger row                        note                                  enters the row, removes the note
    while a file came back to the inbox by copy  ticket; file in the claim; a part of  removes the part, goes on as above
                                                   it in the inbox
    never by a crash: a file with the name of    a part file without ticket, or with   lets it be, and says so
      such a part                                  bytes that the claim has not
    while a returned prop was taken along, and   the prop under .tidegate-taken,       as without the change: the ticket
      the gate has another name or tree since      told by the ticket                    tells where the prop stands
    never by a crash: a prop under               the prop                              puts it back under its name, or a
      .tidegate-taken without ticket                                                     free one beside it
    never by a crash: a claim without ticket     a claimed folder alone                puts it aside whole, with the reason
    never by a crash: a ticket or note that      the unreadable file                   puts the claim aside with it;
      cannot be read                                                                     a note stays, and says so

Recovery may be killed at any place and run again: each step is one of the repeatable functions the gate itself uses.
"""

from __future__ import annotations

import contextlib
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from tidegate.errors import GateFault, PermanentFault

from . import claim, durable, handing, ticket
from .faults import Changed, disk_step, fault_of, shown
from .give_back import own_parts, put_taken_back
from .hand_over import Enter, set_aside
from .layout import Layout
from .publish import Delivered, publish
from .scan import NAMED_AS_PART, files_under, look, named_as_parts
from .settings import GateRules
from .ticket import Ticket

REMOVE_PART = "remove-part"
CLEAR_COPIES = "clear-copies"
FINISH_HANDING = "finish-handing"
TAKE = "take"
JUDGE = "judge"
PUT_ASIDE = "put-aside"
PUT_BACK = "put-back"
LOOK = "look"


@dataclass(frozen=True, slots=True)
class Step:
    """One thing to do. action: one of the constants above. ticket: "" where none is concerned. why: one line.

    `judge` only removes folders the claim emptied, the daemon judges every claimed drop; `look` needs a person and
    changes nothing.
    """

    action: str
    ticket: str
    path: str
    why: str


@dataclass(frozen=True, slots=True)
class Result:
    """How a step went. fault: None when done. delivered: what a finished note put in place."""

    step: Step
    fault: GateFault | None = None
    delivered: tuple[Delivered, ...] = ()


def plan(layout: Layout) -> tuple[Step, ...]:
    """What to do, in order. Changes nothing. Call with the gate's lock held, else it sees a gate at work."""
    away = _folders(layout.taken(""))  # before the tickets: at a gate at work each has one as long as it is there
    steps = [Step(REMOVE_PART, "", str(path), "a crash cut its writing short") for path in _parts(layout)]
    steps += _parts_outside(layout)
    steps += [
        Step(CLEAR_COPIES, path.name, str(path), "copies out of an archive") for path in _folders(layout.unpacked)
    ]
    noted: set[str] = set()
    kept: set[str] = set()
    for path in _files(layout.handing):
        noted.add(path.stem)
        try:
            note = handing.read(path)
        except PermanentFault as fault:
            steps.append(Step(LOOK, path.stem, str(path), fault.what))
            continue
        kept |= {entry.staging for entry in note.entries}
        steps.append(Step(FINISH_HANDING, path.stem, str(path), "everything of it was staged"))
    unreadable = {step.ticket for step in steps if step.action == LOOK}
    for tree in dict.fromkeys(layout.paths.trees):
        for path in _folders(layout.staging(tree)):
            if str(path) not in kept and path.name.rsplit("-", 1)[0] not in unreadable:
                steps.append(
                    Step(CLEAR_COPIES, path.name.rsplit("-", 1)[0], str(path), "staged, but never handed over")
                )
    ticketed: set[str] = set()
    readable = set(noted)
    for path in _files(layout.tickets):
        ticketed.add(path.stem)
        if path.stem not in noted:
            steps.append(_step_for(path, layout))
            if steps[-1].action != PUT_ASIDE:
                readable.add(path.stem)
    for path in _folders(layout.claimed):
        if path.name not in ticketed | noted:
            steps.append(Step(PUT_ASIDE, path.name, str(path), "claimed files without a ticket"))
    for path in away:
        if path.name not in readable and path.is_dir():
            why = "a returned prop that was taken along, and no ticket tells of it"
            steps.append(Step(PUT_BACK, path.name, str(path), why))
    return tuple(steps)


def carry_out(
    steps: Sequence[Step], layout: Layout, rules: GateRules, now: datetime, enter: Enter
) -> tuple[Result, ...]:
    """Do the steps in order. A fault of one does not keep the others from being done."""
    return tuple(_do(step, layout, rules, now, enter) for step in steps)


def _step_for(path: Path, layout: Layout) -> Step:
    try:
        taken = ticket.read(path)
    except PermanentFault as fault:
        return Step(PUT_ASIDE, path.stem, str(path), fault.what)
    if claim.complete(taken, layout):
        return Step(JUDGE, taken.ticket, str(layout.claimed_folder(taken.ticket)), "claimed, not handed over")
    return Step(TAKE, taken.ticket, str(path), "not all of its files were taken")


def _do(step: Step, layout: Layout, rules: GateRules, now: datetime, enter: Enter) -> Result:
    path = Path(step.path)
    try:
        if step.action == REMOVE_PART:
            durable.remove_file(path)
        elif step.action == CLEAR_COPIES:
            durable.remove_copies(path)
        elif step.action == FINISH_HANDING:
            return Result(step, delivered=_finish(handing.read(path), layout, now, enter))
        elif step.action == TAKE:
            claim.take(ticket.read(path), layout, rules)
        elif step.action == JUDGE:
            claim.leave_inbox(ticket.read(layout.ticket_file(step.ticket)))
        elif step.action == PUT_ASIDE:
            return Result(step, delivered=_put_aside(step, layout, now, enter))
        elif step.action == PUT_BACK:
            put_taken_back(path)
    except Changed:
        return Result(step)  # it was given back whole and settles anew
    except GateFault as fault:
        return Result(step, fault)
    except OSError as error:  # of a mere look whether something is there
        return Result(step, fault_of(error, "could not look at what a crash left", path))
    return Result(step)


def _finish(note: handing.Note, layout: Layout, now: datetime, enter: Enter) -> tuple[Delivered, ...]:
    try:
        return publish(note, layout, enter)
    except PermanentFault as fault:
        home = layout.claimed_folder(note.ticket)
        if not home.is_dir() or not files_under(home):
            # All was proven and let go before; what people did with it since is theirs.
            durable.remove_file(layout.ticket_file(note.ticket))
            durable.remove_file(layout.handing_file(note.ticket))
            return ()
        return set_aside(_ticket_of(note.ticket, layout), fault, layout, now, enter)


def _put_aside(step: Step, layout: Layout, now: datetime, enter: Enter) -> tuple[Delivered, ...]:
    home = layout.claimed_folder(step.ticket)
    ticket_file = layout.ticket_file(step.ticket)
    extra: tuple[tuple[str, bytes], ...] = ()
    if ticket_file.exists():
        with disk_step("could not read a ticket", ticket_file):
            extra = (("ticket.tidegate.json", ticket_file.read_bytes()),)
    if not home.is_dir() or not files_under(home):
        if extra:
            raise PermanentFault(
                "a ticket cannot be read, and no claimed file belongs to it",
                path=shown(ticket_file),
                done="it was left where it is",
                help="look into it, then remove it",
            )
        claim.let_go([], home)
        return ()
    why = PermanentFault(
        step.why, path=shown(home), help="drop it again once you know what happened to the work folder"
    )
    return set_aside(_ticket_of(step.ticket, layout), why, layout, now, enter, extra)


def _ticket_of(name: str, layout: Layout) -> Ticket:
    """The ticket of that id, or one made up for files whose own is lost."""
    file = layout.ticket_file(name)
    try:
        if file.exists():
            return ticket.read(file)
    except PermanentFault:
        pass  # as if it were not there
    return Ticket(name, layout.paths.name, layout.paths.owner, name, "folder", str(layout.paths.inbox), "", ())


def _parts(layout: Layout) -> list[Path]:
    found: list[Path] = []
    for folder in (layout.paths.work, layout.tickets, layout.handing):
        with disk_step("could not list a work folder", folder):
            found += sorted(folder.glob(f"{durable.PART}*"))
    with disk_step("could not list a folder", layout.claimed):
        found += sorted(path for path in layout.claimed.rglob(f"{durable.PART}*") if path.is_file())
    return found


def _parts_outside(layout: Layout) -> list[Step]:
    """Those on the way back to people's folders; what only has such a name is theirs, and stays."""
    ours: list[Path] = []
    sources: set[Path] = set()  # hidden to be removed: taking goes on with them
    try:
        for file in _files(layout.tickets):
            with contextlib.suppress(PermanentFault):  # one that cannot be read has a step of its own
                taken = ticket.read(file)
                ours += own_parts(taken, layout)
                sources |= {Path(ticket.hidden(taken, move)) for move in taken.moves}
    except GateFault:
        return []  # whose they are cannot be told just now; giving back looks for them again
    steps = [Step(REMOVE_PART, "", str(path), "a crash cut its writing short") for path in ours]
    inbox = layout.paths.inbox
    named = named_as_parts(look(inbox, GateRules())) if inbox.is_dir() else ()
    steps += [
        Step(LOOK, "", str(inbox / path), NAMED_AS_PART) for path in named if inbox / path not in {*ours, *sources}
    ]
    return steps


def _files(folder: Path) -> list[Path]:
    with disk_step("could not list a work folder", folder):
        return sorted(path for path in folder.iterdir() if path.suffix == ".json")


def _folders(folder: Path) -> list[Path]:
    with disk_step("could not list a folder", folder):
        return sorted(path for path in folder.iterdir() if path.is_dir()) if folder.is_dir() else []
