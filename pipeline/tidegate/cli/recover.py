"""`tidegate recover`"""

from __future__ import annotations

import json

import click

from tidegate.cli.exit_codes import told
from tidegate.cli.options import config_option, format_option


@click.command(
    "recover",
    epilog=f"""\b
Examples:
  tidegate recover --dry-run    what a crash left, and what would be done
  tidegate recover              do it; the daemon does the same whenever it starts

{
        told(
            done="mended, or nothing to mend",
            wrongly="asked wrongly",
            failed="something could not be mended, or a daemon serves the gate",
        )
    }""",
)
@click.option("--gate", "gates", multiple=True, metavar="NAME", help="Only this gate; may be given again.")
@click.option("--dry-run", is_flag=True, help="Show what would be done, and do nothing.")
@config_option
@format_option
def command(gates: tuple[str, ...], dry_run: bool, config: str | None, output: str) -> int:
    """Show and mend what a crash left behind."""
    from datetime import UTC, datetime

    from tidegate.cli.gates import chosen_gates, configuration_file, paths_of, rules_of
    from tidegate.gate.layout import Layout
    from tidegate.gate.ledger import Ledger
    from tidegate.gate.lock import held
    from tidegate.gate.recover import carry_out, plan
    from tidegate.load.configuration import read_configuration
    from tidegate.model.printable import printable, printable_lines

    path = configuration_file(config)
    configuration = read_configuration(path)
    steps_told: list[dict[str, object]] = []
    failed = False
    for gate in chosen_gates(configuration, gates, path):
        layout = Layout(paths_of(gate))
        if not layout.paths.work.is_dir():
            continue
        with held(layout.lock):
            steps = plan(layout)
            faults: dict[int, str] = {}
            if not dry_run:
                ledger = Ledger(layout.ledger)
                results = carry_out(steps, layout, rules_of(configuration, gate), datetime.now(UTC), ledger.enter)
                ledger.close()
                faults = {number: str(result.fault) for number, result in enumerate(results) if result.fault}
                failed = failed or bool(faults)
        for number, step in enumerate(steps):
            steps_told.append(
                {
                    "gate": gate.name,
                    "action": step.action,
                    "ticket": step.ticket,
                    "path": step.path,
                    "why": step.why,
                    "fault": faults.get(number),
                }
            )
    if output == "json":
        click.echo(json.dumps({"schema": "tidegate-recover/1", "dry_run": dry_run, "steps": steps_told}, indent=1))
    elif not steps_told:
        click.echo("nothing to mend: no crash left anything")
    else:
        for one in steps_told:
            head = "would " if dry_run else ""
            click.echo(printable(f"{one['gate']}: {head}{one['action']}: {one['path']}: {one['why']}"))
            if one["fault"]:
                click.echo(printable_lines(f"  {one['fault']}"))
    return 3 if failed else 0
