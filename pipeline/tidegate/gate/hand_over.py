"""From a claimed drop and what the judge said of it to folders in their rightful place.

    approved -> delivery/<place>/<prop>/v001   (next free number; the newest version's content again makes no new one)
    returned -> returned/<prop>-<ticket>
    unjudged -> aside/<prop>-<ticket>
    archives, superseded files and our own reports dropped back -> kept/<drop>-<ticket>

What of a drop goes into which folder is told in `parts`.
"""

from __future__ import annotations

import os
from collections.abc import Callable, Sequence
from dataclasses import replace
from datetime import datetime
from pathlib import Path

from tidegate.errors import PermanentFault, TidegateError

from . import durable, handing
from .aside_report import TEXT, aside_report, one_line
from .faults import disk_step, shown
from .handed import Handed
from .handing import Entry, Note
from .identity import Deliveries, Offered, Refusal
from .layout import Layout
from .make_ticket import rfc3339
from .manifest import faults_in
from .names import fitted, one_part, same_to_some
from .outcome import APPROVED, RETURNED, UNJUDGED, Outcome
from .parts import KEPT, Part, kept, kept_parts, our_own_reports, parts_of
from .proof import proof_of
from .publish import Delivered, is_in_place, publish
from .scan import files_under
from .stage import sources, stage
from .ticket import SUPERSEDED, Ticket

Enter = Callable[[tuple[Delivered, ...]], None]


def hand_over(
    ticket: Ticket, root: Path, outcomes: Sequence[Outcome], layout: Layout, now: datetime, enter: Enter
) -> tuple[Delivered, ...]:
    """Hand over a claimed drop. root: the folder that was examined. now: for the record. enter: see `publish`.

    Raises TransientFault when a try later may succeed (nothing was handed over yet, or the note finishes it), and
    PermanentFault when it never will; `set_aside` is then the way out.
    """
    note_file = layout.handing_file(ticket.ticket)
    if not note_file.exists():  # else an earlier try got this far: what it staged is what is handed over
        home = layout.claimed_folder(ticket.ticket)
        claimed = files_under(home)
        ours = our_own_reports(root)
        parts = parts_of(ticket, root, outcomes, [path for path in files_under(root) if path not in ours])
        parts += kept_parts(ticket, home, claimed)
        if ours and ticket.kind != "archive":  # what came out of an archive is kept with it
            parts.append(kept(ticket, root, sorted(ours), "reports of the return that it mends"))
        entries = tuple(_entry(number, part, ticket, layout, now) for number, part in enumerate(parts, 1))
        note = Note(ticket.ticket, entries, tuple(claimed))
        durable.write_file(note_file, handing.to_bytes(note))  # read back and compared there
    else:
        note = handing.read(note_file)
    return publish(note, layout, enter)


def set_aside(
    ticket: Ticket,
    why: TidegateError,
    layout: Layout,
    now: datetime,
    enter: Enter,
    extra: Sequence[tuple[str, bytes]] = (),
) -> tuple[Delivered, ...]:
    """Put a claimed drop aside as it came, with a report that says why. extra: further sidecars.

    Where a handing note exists, the props of it that stand in their place stay there, and only the rest goes aside.
    """
    root = layout.claimed_folder(ticket.ticket)
    claimed = files_under(root)
    stand, theirs = _standing(ticket, layout)
    left = [path for path in claimed if path not in theirs]
    outcome = replace(could_not_be_judged(ticket, left, why), owner=ticket.owner)
    outcome = replace(outcome, sidecars=(*outcome.sidecars, *extra))
    short = [(path, path if path.startswith(f"{SUPERSEDED}/") else path.split("/", 2)[-1]) for path in left]
    number = 1 + max((entry.record.part for entry in stand), default=0)
    entry = _entry(number, Part(outcome, sources(root, short, fold=True)), ticket, layout, now)
    durable.remove_file(layout.handing_file(ticket.ticket))
    note = Note(ticket.ticket, (*stand, entry), tuple(claimed))
    durable.write_file(layout.handing_file(ticket.ticket), handing.to_bytes(note))
    return publish(note, layout, enter)


def could_not_be_judged(ticket: Ticket, files: Sequence[str], why: TidegateError) -> Outcome:
    """The outcome of a drop that has no judge's report: all of it aside, with one of ours."""
    report = aside_report(ticket.drop, why, ticket, files)
    return Outcome(ticket.drop, UNJUDGED, tuple(files), sidecars=report, reason=one_line(why))


def _standing(ticket: Ticket, layout: Layout) -> tuple[tuple[Entry, ...], frozenset[str]]:
    """Entries of a handing note that are in place and proven, and the claimed files that are in no other entry."""
    file = layout.handing_file(ticket.ticket)
    try:
        if not os.path.lexists(file):
            return (), frozenset()
        note = handing.read(file)
    except PermanentFault:
        return (), frozenset()
    stand = tuple(entry for entry in note.entries if is_in_place(entry, layout))
    fall = [entry for entry in note.entries if entry not in stand]
    needed = {path for entry in fall for path, _, _ in entry.record.files}
    roots = ("", f"{ticket.drop_folder}/")
    theirs = {
        root + path for entry in stand for path, _, _ in entry.record.files if path not in needed for root in roots
    }
    return stand, frozenset(theirs)


def _entry(number: int, part: Part, ticket: Ticket, layout: Layout, now: datetime) -> Entry:
    """Stage one part; for content the newest version has already, prove that and stage nothing."""
    outcome, paths = part.outcome, layout.paths
    judged = dict(outcome.hashes)
    deliveries = Deliveries(paths.delivery, raising=True)
    if outcome.verdict == APPROVED:
        for name in (*outcome.place, outcome.prop):
            one_part(name, "a place or prop name")
        content = _content(part, judged)
        before = disk_step(
            "could not read what was delivered before", deliveries.prop_folder(outcome.place, outcome.prop)
        )
        with before:
            found = _same_version(deliveries, outcome, content)
        # Nothing will be staged then, so this is where the files are proven to be still those that were judged.
        if found and _content(part, {}) == content:
            same, same_record = found
            outcome = replace(outcome, reason=f"the same content as {same.name}: no new version")
            record = replace(_record(number, outcome, ticket, "delivery", now), files=same_record.files)
            return Entry("", str(paths.delivery), str(same.parent), "", "", record, str(same))
        with before:
            refusal = _clash_inside(part) or deliveries.refusal(
                outcome.place, outcome.prop, _offered(outcome, content, ticket)
            )
        if refusal:
            outcome = _turned_back(outcome, refusal)
    tree, label = _tree(outcome.verdict, layout)
    if tree == paths.aside and not any(name.endswith(TEXT) for name, _ in outcome.sidecars):
        why = PermanentFault(outcome.reason or "no reason was given")
        report = aside_report(outcome.prop, why, ticket, [source.path for source in part.sources])
        outcome = replace(outcome, sidecars=(*outcome.sidecars, *report))
    layout.require(tree)
    staging = layout.staging(tree) / f"{ticket.ticket}-{number}"
    record = _record(number, outcome, ticket, label, now)
    record, manifest = stage(staging, part.sources, outcome.sidecars, record, judged)
    if outcome.verdict == APPROVED:
        folder, name = tree.joinpath(*outcome.place, outcome.prop), ""
    else:
        prop = outcome.prop.replace("/", "_").replace("\0", "_").lstrip(".") or "unnamed"
        folder, name = tree, fitted(prop, ticket.ticket)
    return Entry(str(staging), str(tree), str(folder), name, manifest, record)


def _offered(outcome: Outcome, content: tuple[tuple[str, str], ...], ticket: Ticket) -> Offered:
    told = (outcome.version, outcome.named, ticket.ticket, ticket.gate, ticket.claimed_at)
    return Offered(outcome.owner, content, *told)


def _content(part: Part, known: dict[str, str]) -> tuple[tuple[str, str], ...]:
    """(path, sha256) of every file, read where the hash is not known. What was known is proven when it is staged."""
    with disk_step("could not read a claimed file", part.outcome.prop):
        return tuple(
            sorted((source.path, known.get(source.path) or proof_of(source.at).sha256) for source in part.sources)
        )


def _same_version(
    deliveries: Deliveries, outcome: Outcome, content: tuple[tuple[str, str], ...]
) -> tuple[Path, Handed] | None:
    """The newest version when it has this content, every byte of it proven on the disk just now."""
    newest = deliveries.newest(outcome.place, outcome.prop)
    if newest is None or newest[1].content != content or newest[1].owner != outcome.owner:
        return None
    return newest if not faults_in(newest[0], raising=True) else None


def _clash_inside(part: Part) -> Refusal | None:
    """Two files of the prop whose paths some file systems cannot tell apart: such a delivery cannot be copied on."""
    seen: dict[str, str] = {}
    for source in part.sources:
        other = seen.setdefault(same_to_some(source.path), source.path)
        if other != source.path:
            message = f"{other} and {source.path} differ only in upper and lower case or accents"
            return Refusal("name-differs-in-case", message, source.path, "rename one of them")
    return None


def _turned_back(outcome: Outcome, refusal: Refusal) -> Outcome:
    """The last line of defence, for a judge that did not ask `Deliveries.refusal` or asked too early."""
    told = (
        f"{refusal.check}: {shown(refusal.message)}",
        f"  in the way: {shown(refusal.path)}",
        f"  {shown(refusal.help)}",
    )
    text = "".join(f"{line}\n" for line in told).encode()
    sidecar = (f"{outcome.prop}.{refusal.check}.tidegate.txt", text)
    reason = f"{refusal.check}: {refusal.message}"
    return replace(outcome, verdict=RETURNED, reason=reason, sidecars=(*outcome.sidecars, sidecar))


def _tree(verdict: str, layout: Layout) -> tuple[Path, str]:
    paths = layout.paths
    trees = {APPROVED: (paths.delivery, "delivery"), RETURNED: (paths.returned, "returned"), KEPT: (paths.kept, KEPT)}
    return trees.get(verdict, (paths.aside, "aside"))


def _record(number: int, outcome: Outcome, ticket: Ticket, tree: str, now: datetime) -> Handed:
    return Handed(
        ticket=ticket.ticket,
        part=number,
        gate=ticket.gate,
        owner=outcome.owner,
        drop=ticket.drop,
        prop=outcome.prop,
        verdict=outcome.verdict,
        tree=tree,
        place=outcome.place if outcome.verdict == APPROVED else (),
        file_version=outcome.version,
        reason=outcome.reason,
        claimed_at=ticket.claimed_at,
        handed_at=rfc3339(now),
        files=(),
        sidecars=(),
        named=outcome.named,
    )
