"""`tidegate status`"""

from __future__ import annotations

import json
from typing import TYPE_CHECKING, Any

import click

from tidegate.cli.exit_codes import told
from tidegate.cli.options import config_option, format_option

if TYPE_CHECKING:
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
    return 3 if any(record["held_up"] or record["aside"] for record in records) else 0


def _record(configuration: Configuration, gate: Gate) -> dict[str, Any]:
    from tidegate.cli.gates import paths_of
    from tidegate.gate.layout import Layout
    from tidegate.gate.ledger import Ledger, rows_in
    from tidegate.gate.lock import holder

    layout = Layout(paths_of(gate))
    ledger = Ledger(layout.ledger)
    there = layout.ledger.exists()
    in_hand = sorted(path.name for path in layout.claimed.iterdir()) if layout.claimed.is_dir() else []
    record = {
        "gate": gate.name,
        "served_by": holder(layout.lock),
        "inbox": str(gate.inbox),
        "inbox_there": gate.inbox.is_dir(),
        "in_inbox": _lying_in(configuration, gate),
        "in_hand": in_hand,
        "held_up": [
            {
                "what": row.key,
                "reason": row.reason,
                "heals": row.heals,
                "tries": row.tries,
                "next_try": row.next_try or None,
                "since": row.since,
            }
            for row in (ledger.held_up() if there else [])
        ],
        "handed_over": ledger.counts() if there else {},
        "aside": [{"path": row.path, "reason": row.reason} for row in rows_in(gate.aside)],
    }
    ledger.close()
    return record


def _lying_in(configuration: Configuration, gate: Gate) -> list[str]:
    from tidegate.load.listing import ignored

    if not gate.inbox.is_dir():
        return []
    names = sorted(path.name for path in gate.inbox.iterdir())
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
    for row in record["aside"]:
        lines.append(f"  aside         {row['path']}: {row['reason']}")
    return "\n".join(printable(line) for line in lines)


def _listed(names: list[str]) -> str:
    if not names:
        return "nothing"
    shown = ", ".join(names[:6])
    return f"{len(names)}: {shown}" + (f" and {len(names) - 6} more" if len(names) > 6 else "")
