"""`tidegate history [PROP]`"""

from __future__ import annotations

import json
from dataclasses import asdict
from typing import TYPE_CHECKING

import click

from tidegate.cli.exit_codes import told
from tidegate.cli.options import config_option, format_option

if TYPE_CHECKING:
    from tidegate.gate.ledger import Row


@click.command(
    "history",
    epilog=f"""\b
Examples:
  tidegate history                   everything that was handed over, oldest first
  tidegate history mooring_bollard   one prop
  tidegate history --rebuild         read the records in the trees again, when the ledger was lost

{
        told(
            done="shown",
            wrongly="asked wrongly",
            failed="a daemon serves a gate that was to be rebuilt",
            nothing="no history of that prop",
        )
    }""",
)
@click.argument("prop", required=False)
@click.option("--gate", "gates", multiple=True, metavar="NAME", help="Only this gate; may be given again.")
@click.option(
    "--last",
    type=click.IntRange(1),
    default=200,
    show_default=True,
    metavar="ROWS",
    help="At most so many of the newest rows.",
)
@click.option("--rebuild", is_flag=True, help="Make the ledger anew from the trees; the old one is kept beside it.")
@config_option
@format_option
def command(prop: str | None, gates: tuple[str, ...], last: int, rebuild: bool, config: str | None, output: str) -> int:
    """Show what happened to a prop, from the ledger."""
    from tidegate.cli.gates import chosen_gates, configuration_file, paths_of
    from tidegate.gate.layout import Layout
    from tidegate.gate.ledger import Ledger
    from tidegate.gate.lock import held
    from tidegate.load.configuration import read_configuration
    from tidegate.model.printable import printable

    path = configuration_file(config)
    configuration = read_configuration(path)
    rows: list[Row] = []
    asked = chosen_gates(configuration, gates, path)
    for gate in asked:
        paths = paths_of(gate)
        layout = Layout(paths)
        ledger = Ledger(layout.ledger)
        if rebuild:
            with held(layout.lock):
                count = ledger.rebuild(paths.trees, others={one.name for one in configuration.gates} - {gate.name})
            click.echo(f"gate {gate.name}: {count} rows read from the trees", err=True)
        if layout.ledger.exists():
            rows.extend(ledger.history(prop or "", last))
        ledger.close()
    rows.sort(key=lambda row: (row.handed_at, row.ticket, row.part))
    rows = rows[-last:]
    if output == "json":
        click.echo(json.dumps({"schema": "tidegate-history/1", "rows": [asdict(row) for row in rows]}, indent=1))
    else:
        for row in rows:
            same = " (unchanged)" if row.same else ""
            click.echo(printable(f"{row.handed_at}  {row.prop:<24} {row.verdict:<9} {row.path}{same}"))
            if prop and row.reason:
                click.echo(printable(f"  {row.reason.removeprefix(f'{row.prop} {row.verdict} ')}"))
    if not rows:
        _tell_nothing(prop, [gate.name for gate in asked])
        return 4
    return 0


def _tell_nothing(prop: str | None, gates: list[str]) -> None:
    from tidegate.model.printable import printable
    from tidegate.model.wording import count, one_of

    named = one_of(gates, "and") if len(gates) < 6 else count(len(gates), "gate")
    ledgers = "ledger" if len(gates) == 1 else "ledgers"
    click.echo(
        printable(f"tidegate: no history{f' of `{prop}`' if prop else ''} in the {ledgers} of {named}"), err=True
    )
    help_ = (
        "`tidegate history` names every prop there is"
        if prop
        else "nothing was handed over yet; `tidegate status` says what waits"
    )
    click.echo(f"  help: {help_}; `tidegate history --rebuild` reads the trees again where a ledger was lost", err=True)
