"""`tidegate status`"""

from __future__ import annotations

import json
from typing import TYPE_CHECKING, Any

import click

from tidegate.cli.exit_codes import told
from tidegate.cli.options import config_option, format_option

if TYPE_CHECKING:
    from pathlib import Path

    from tidegate.gate.layout import Layout
    from tidegate.gate.ledger import WaitingRow
    from tidegate.model.settings import Configuration, Gate

MOST = 20
"""Lines of one kind that are shown to a person."""


@click.command(
    "status",
    epilog=f"""\b
Examples:
  tidegate status                  every gate: what waits, what is in hand, what went
  tidegate status --format json    the same for a program

What arrives goes on by itself. What is held up is tried again, or waits for somebody. What lies aside nobody could judge.

{
        told(
            done="nothing is held up",
            wrongly="asked wrongly",
            failed="something is held up, lies aside, is broken, is not there or cannot be told",
        )
    }""",
)
@click.option("--gate", "gates", multiple=True, metavar="NAME", help="Only this gate; may be given again.")
@config_option
@format_option
def command(gates: tuple[str, ...], config: str | None, output: str) -> int:
    """Show what waits, what is in hand and what went aside."""
    from tidegate.cli.gates import chosen_gates, configuration_file
    from tidegate.load.configuration import read_configuration

    path = configuration_file(config)
    configuration = read_configuration(path)
    records = [_record(configuration, gate) for gate in chosen_gates(configuration, gates, path)]
    _add_left_claims(configuration, records)
    if output == "json":
        click.echo(json.dumps({"schema": "tidegate-status/1", "gates": records}, indent=1))
    else:
        click.echo("\n\n".join(_page(record) for record in records))
    return 3 if any(_needs_somebody(record) for record in records) else 0


def _needs_somebody(record: dict[str, Any]) -> bool:
    return _inbox_is_gone(record) or any(
        record[key] for key in ("held_up", "left_claims", "aside", "cannot_tell", "broken_rules")
    )


def _record(configuration: Configuration, gate: Gate) -> dict[str, Any]:
    """What can be told of a gate. What cannot be read is told as such, so that one gate's trouble hides no other."""
    from tidegate.cli.gates import paths_of
    from tidegate.gate.layout import Layout
    from tidegate.gate.ledger import rows_in
    from tidegate.gate.lock import holder

    layout = Layout(paths_of(gate))
    unreadable: list[str] = []
    rows, counts = _from_ledger(layout.ledger, unreadable)
    return {
        "gate": gate.name,
        "served_by": holder(layout.lock),
        "ever_ran": gate.work.is_dir(),
        "inbox": str(gate.inbox),
        "inbox_there": gate.inbox.is_dir(),
        "in_inbox": _lying_in(configuration, gate, unreadable),
        "arriving": [{"what": row.key, "reason": row.reason, "until": row.next_try} for row in rows if row.arrives],
        "in_hand": _in_hand(layout, unreadable),
        "held_up": [
            {
                "what": row.key,
                "reason": row.reason,
                "heals": row.heals,
                "tries": row.tries,
                "next_try": row.next_try or None,
                "since": row.since,
            }
            for row in rows
            if not row.arrives
        ],
        "left_claims": [],
        "handed_over": counts,
        "aside": [
            {"path": row.path, "reason": row.reason}
            for row in sorted(rows_in(gate.aside), key=lambda row: row.handed_at, reverse=True)
        ],
        "cannot_tell": unreadable,
        "broken_rules": _broken_rules(configuration, gate),
    }


def _broken_rules(configuration: Configuration, gate: Gate) -> list[str]:
    """What a daemon would refuse in the names scheme, the order list or a rule set of the gate, as `tidegate rules` tells it."""
    from tidegate.cli.terms import gate_terms, with_rule_sets
    from tidegate.errors import AskedWrongly

    try:
        with_rule_sets(gate_terms(configuration, gate))
    except AskedWrongly as fault:
        return str(fault).splitlines()
    return []


def _add_left_claims(configuration: Configuration, records: list[dict[str, Any]]) -> None:
    """Claims where no gate of the configuration has its work folder, with the first gate whose delivery tree tells of them."""
    from tidegate.cli.gates import left_by_gate

    by_name = {record["gate"]: record for record in records}
    for name, found, fault in left_by_gate(configuration, by_name):
        if fault is not None:
            why = f"whether claims lie where no gate serves them: {fault.path}: {fault.came}"
            by_name[name]["cannot_tell"].append(why)
        for each in found:
            row = {"gate": each.gate, "work": str(each.work), "drops": each.drops}
            by_name[name]["left_claims"].append({**row, "reason": each.what, "heals": each.heals})


def _from_ledger(path: Path, unreadable: list[str]) -> tuple[list[WaitingRow], dict[str, int]]:
    """What does not move, and how many props went where."""
    from tidegate.errors import TransientFault
    from tidegate.gate.ledger import Ledger

    ledger = Ledger(path)
    try:
        return (ledger.held_up(), ledger.counts()) if path.exists() else ([], {})
    except (TransientFault, OSError) as error:
        came = error.came if isinstance(error, TransientFault) else str(error)
        unreadable.append(f"what is held up and what was handed over: {path}: {came}; the daemon's log tells")
        return [], {}
    finally:
        ledger.close()


def _in_hand(layout: Layout, unreadable: list[str]) -> list[dict[str, Any]]:
    """The drops that were claimed and are not handed over yet, oldest first."""
    from tidegate.errors import GateFault
    from tidegate.gate import ticket

    found = []
    for name in _names_in(layout.tickets, unreadable):
        if not name.endswith(".json"):
            continue
        try:
            taken = ticket.read(layout.tickets / name)
        except GateFault as fault:
            if (layout.tickets / name).exists():  # else it was handed over this moment
                unreadable.append(f"which drop is in hand: {layout.tickets / name}: {fault.came}")
            continue
        found.append({"drop": taken.drop, "ticket": taken.ticket, "claimed_at": taken.claimed_at})
    return sorted(found, key=lambda each: (each["claimed_at"], each["ticket"]))


def _names_in(folder: Path, unreadable: list[str]) -> list[str]:
    try:
        return sorted(path.name for path in folder.iterdir())
    except FileNotFoundError:
        return []
    except OSError as error:
        unreadable.append(f"what lies in {folder}: {error.strerror}")
        return []


def _lying_in(configuration: Configuration, gate: Gate, unreadable: list[str]) -> list[str]:
    from tidegate.load.listing import ignored

    names = _names_in(gate.inbox, unreadable)
    return [name for name in names if not ignored(name, configuration.studio.litter_names)]


def _inbox_is_gone(record: dict[str, Any]) -> bool:
    """It was there once; before that the daemon makes it."""
    return record["ever_ran"] and not record["inbox_there"]


def _page(record: dict[str, Any]) -> str:
    from tidegate.model.printable import printable
    from tidegate.model.wording import count

    served = record["served_by"]
    lines = [f"gate {record['gate']}, {f'served by process {served}' if served else 'no daemon serves it'}"]
    if _inbox_is_gone(record):
        lines.append(f"  the inbox is not there: {record['inbox']}: mount it or bring it back")
    elif not record["inbox_there"]:
        lines.append(f"  never ran; `tidegate watch` makes its folders, the inbox at {record['inbox']}")
    lines.append(f"  in the inbox  {_listed(record['in_inbox'])}")
    lines.append(f"  in hand       {_listed([each['drop'] for each in record['in_hand']])}")
    counts = ", ".join(f"{number} {verdict}" for verdict, number in sorted(record["handed_over"].items()))
    lines.append(f"  handed over   {counts or 'nothing yet'}")
    # Without a daemon nothing is tried again: the rows are what the last one wrote.
    arriving, held_up = ("arriving", "held up") if served else ("was arriving", "was held up")
    rows = [
        (f"{row['what']}: {row['reason']}" + (f"; taken by {row['until']} at the latest" if served else ""), "")
        for row in record["arriving"]
    ]
    lines += _rows(arriving, rows)
    rows = []
    for row in record["held_up"]:
        tries = (
            f"; tried {count(row['tries'], 'time')}, again at {row['next_try']}" if row["next_try"] and served else ""
        )
        rows.append((f"{row['what']}: {row['reason']}{tries}", row["heals"]))
    lines += _rows(held_up, rows)
    lines += _rows("left claims", [(row["reason"], row["heals"]) for row in record["left_claims"]])
    lines += _rows("aside", [(f"{row['path']}: {row['reason']}", "") for row in record["aside"]])
    lines += _rows("cannot tell", [(what, "") for what in record["cannot_tell"]])
    if record["broken_rules"]:
        kept = "the daemon goes on with the last good ones" if served else "the gate cannot open so"
        lines += _rows("broken rules", [(kept, "")])
        lines += [f"{'':<16}{line}" for line in record["broken_rules"][:MOST]]
    return "\n".join(printable(line) for line in lines)


def _rows(head: str, rows: list[tuple[str, str]]) -> list[str]:
    """A line each, with what heals it under it; the first MOST."""
    lines = []
    for text, below in rows[:MOST]:
        lines.append(f"  {head:<14}{text}")
        if below:
            lines.append(f"{'':<16}{below}")
    if len(rows) > MOST:
        lines.append(f"  {head:<14}and {len(rows) - MOST} more; --format json names all")
    return lines


def _listed(names: list[str]) -> str:
    if not names:
        return "nothing"
    shown = ", ".join(names[:6])
    return f"{len(names)}: {shown}" + (f" and {len(names) - 6} more" if len(names) > 6 else "")
