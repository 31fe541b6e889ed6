"""`tidegate status`"""

from __future__ import annotations

import json
from typing import TYPE_CHECKING, Any

import click

from tidegate.cli.exit_codes import told
from tidegate.cli.options import config_option, format_option

if TYPE_CHECKING:
    from pathlib import Path

    from tidegate.model.settings import Configuration, Gate


@click.command(
    "status",
    epilog=f"""\b
Examples:
  tidegate status                  every gate: what waits, what is in hand, what went
  tidegate status --format json    the same for a program

{told(done="nothing is held up", wrongly="asked wrongly", failed="something is held up or lies aside")}""",
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
    if output == "json":
        click.echo(json.dumps({"schema": "tidegate-status/1", "gates": records}, indent=1))
    else:
        click.echo("\n\n".join(_page(record) for record in records))
    return 3 if any(record["held_up"] or record["aside"] or record["cannot_tell"] for record in records) else 0


def _record(configuration: Configuration, gate: Gate) -> dict[str, Any]:
    """What can be told of a gate. What cannot be read is told as such, so that one gate's trouble hides no other."""
    from tidegate.cli.gates import paths_of
    from tidegate.gate.layout import Layout
    from tidegate.gate.ledger import rows_in
    from tidegate.gate.lock import holder

    layout = Layout(paths_of(gate))
    unreadable: list[str] = []
    held_up, counts = _from_ledger(layout.ledger, unreadable)
    return {
        "gate": gate.name,
        "served_by": holder(layout.lock),
        "inbox": str(gate.inbox),
        "inbox_there": gate.inbox.is_dir(),
        "in_inbox": _lying_in(configuration, gate, unreadable),
        "in_hand": _names_in(layout.claimed, unreadable),
        "held_up": held_up,
        "handed_over": counts,
        "aside": [{"path": row.path, "reason": row.reason} for row in rows_in(gate.aside)],
        "cannot_tell": unreadable,
    }


def _from_ledger(path: Path, unreadable: list[str]) -> tuple[list[dict[str, Any]], dict[str, int]]:
    """What is held up, and how many props went where."""
    from tidegate.errors import TransientFault
    from tidegate.gate.ledger import Ledger

    ledger = Ledger(path)
    try:
        if not path.exists():
            return [], {}
        rows = [
            {
                "what": row.key,
                "reason": row.reason,
                "heals": row.heals,
                "tries": row.tries,
                "next_try": row.next_try or None,
                "since": row.since,
            }
            for row in ledger.held_up()
        ]
        return rows, ledger.counts()
    except (TransientFault, OSError) as error:
        came = error.came if isinstance(error, TransientFault) else str(error)
        unreadable.append(f"what is held up and what was handed over: {path}: {came}; the daemon's log tells")
        return [], {}
    finally:
        ledger.close()


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


def _page(record: dict[str, Any]) -> str:
    from tidegate.model.printable import printable

    served = f"served by process {record['served_by']}" if record["served_by"] else "no daemon"
    lines = [f"gate {record['gate']}, {served}"]
    if not record["inbox_there"]:
        lines.append(f"  the inbox is not there: {record['inbox']}")
    lines.append(f"  in the inbox  {_listed(record['in_inbox'])}")
    lines.append(f"  in hand       {_listed(record['in_hand'])}")
    counts = ", ".join(f"{number} {verdict}" for verdict, number in sorted(record["handed_over"].items()))
    lines.append(f"  handed over   {counts or 'nothing yet'}")
    for row in record["held_up"]:
        tries = f", tried {row['tries']} times, again at {row['next_try']}" if row["next_try"] else ""
        lines.append(f"  held up       {row['what']}: {row['reason']}{tries}")
        if row["heals"]:
            lines.append(f"                {row['heals']}")
    for row in record["aside"]:
        lines.append(f"  aside         {row['path']}: {row['reason']}")
    lines += [f"  cannot tell   {what}" for what in record["cannot_tell"]]
    return "\n".join(printable(line) for line in lines)


def _listed(names: list[str]) -> str:
    if not names:
        return "nothing"
    shown = ", ".join(names[:6])
    return f"{len(names)}: {shown}" + (f" and {len(names) - 6} more" if len(names) > 6 else "")
