"""The two pieces of disk work a drop needs, each a function that may run in any thread and never raises.

They touch no state of the loop: what they need comes in, what happened goes out as `Work`.
"""

from __future__ import annotations

import traceback
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from tidegate.errors import GateFault, PermanentFault, TransientFault, UnreadableFile
from tidegate.gate import claim, durable, handing, one_drop
from tidegate.gate.faults import Changed, fault_of
from tidegate.gate.give_back import put_back
from tidegate.gate.grouping import SeenDrop
from tidegate.gate.hand_over import Enter, set_aside
from tidegate.gate.layout import Layout
from tidegate.gate.one_drop import Prepared
from tidegate.gate.outcome import Outcome
from tidegate.gate.publish import Delivered, publish
from tidegate.gate.settings import GateRules
from tidegate.gate.ticket import Ticket


@dataclass(frozen=True, slots=True)
class Work:
    """What became of a piece of work. drop: the seen drop when it was a new claim.

    prepared: ready to be examined. delivered: in its place. given_back: it lies in the inbox again.
    fault: what went wrong; with `delivered` it is why the drop went aside.
    """

    gate: str
    ticket: Ticket
    drop: SeenDrop | None = None
    prepared: Prepared | None = None
    delivered: tuple[Delivered, ...] = ()
    given_back: bool = False
    fault: GateFault | UnreadableFile | None = None


def take(taken: Ticket, drop: SeenDrop | None, layout: Layout, rules: GateRules, now: datetime, enter: Enter) -> Work:
    """Claim a new drop (`drop` given), or go on with a claimed one wherever it stopped, up to where it is examined."""
    gate = layout.paths.name
    try:
        note = layout.handing_file(taken.ticket)
        if note.exists():
            return Work(gate, taken, delivered=publish(handing.read(note), layout, enter))
        if drop is not None:
            claim.claim(taken, layout, rules)
        elif not claim.complete(taken, layout):
            claim.take(taken, layout, rules)
        try:
            return Work(gate, taken, drop, prepared=one_drop.prepare(taken, layout, rules))
        except UnreadableFile as bad:
            delivered = one_drop.refuse_archive(taken, bad, layout, now, enter)
            return Work(gate, taken, delivered=delivered, fault=bad)
    except Changed as changed:
        return Work(gate, taken, drop, given_back=True, fault=changed)
    except Exception as error:  # noqa: BLE001  one drop's trouble must not end the daemon
        fault = _as_fault(error)
    if drop is not None:
        try:
            durable.remove_copies(layout.unpacked / taken.ticket)
            put_back(taken, layout, rules)
        except (GateFault, OSError):
            return Work(gate, taken, drop, fault=fault)
        return Work(gate, taken, drop, given_back=True, fault=fault)
    return _aside_if_hopeless(taken, fault, layout, now, enter)


def finish(prepared: Prepared, outcomes: Sequence[Outcome], layout: Layout, now: datetime, enter: Enter) -> Work:
    """Hand over what was judged."""
    try:
        delivered = one_drop.finish(prepared, outcomes, layout, now, enter)
        return Work(layout.paths.name, prepared.ticket, delivered=delivered)
    except Exception as error:  # noqa: BLE001  as above
        return _aside_if_hopeless(prepared.ticket, _as_fault(error), layout, now, enter)


def _aside_if_hopeless(taken: Ticket, fault: GateFault, layout: Layout, now: datetime, enter: Enter) -> Work:
    gate = layout.paths.name
    if not isinstance(fault, PermanentFault):
        return Work(gate, taken, fault=fault)
    try:
        return Work(gate, taken, delivered=set_aside(taken, fault, layout, now, enter), fault=fault)
    except Exception as error:  # noqa: BLE001  as above
        return Work(gate, taken, fault=_as_fault(error))


def _as_fault(error: Exception) -> GateFault:
    """Any exception as a fault. One that we did not foresee is tried again: it may not be the drop's doing."""
    if isinstance(error, GateFault):
        return error
    if isinstance(error, OSError):
        return fault_of(error, "a step on the disk failed", error.filename or "")
    return TransientFault(
        "tidegate itself failed",
        came="".join(traceback.format_exception(error)[-3:]),
        done="the drop stays where it is and is tried again later",
        help="report this with the log",
    )
