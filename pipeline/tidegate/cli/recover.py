"""`tidegate recover`"""

from __future__ import annotations

import json
from typing import TYPE_CHECKING, Any

import click

from tidegate.cli.exit_codes import told
from tidegate.cli.options import config_option, format_option

if TYPE_CHECKING:
    from tidegate.gate.layout import Layout
    from tidegate.gate.recover import Step
    from tidegate.gate.settings import GateRules
    from tidegate.model.settings import Configuration, Gate

LOOKS = 20
"""A gate at work moves what is looked at. So often a look that met a move is made anew."""


@click.command(
    "recover",
    epilog=f"""\b
Examples:
  tidegate recover --dry-run    what a crash left, and what would be done
  tidegate recover              do it; the daemon does the same whenever it starts

Mending needs the gate to itself: stop its daemon first. A dry run takes no lock and changes nothing, so it may look at any
time; where a daemon is at work it shows what the next start would do if that ended this moment.

{
        told(
            done="mended, or nothing to mend",
            wrongly="asked wrongly",
            failed="something could not be mended or looked at, or a daemon serves a gate to be mended",
        )
    }""",
)
@click.option("--gate", "gates", multiple=True, metavar="NAME", help="Only this gate; may be given again.")
@click.option("--dry-run", is_flag=True, help="Show what would be done, and do nothing.")
@config_option
@format_option
def command(gates: tuple[str, ...], dry_run: bool, config: str | None, output: str) -> int:
    """Show and mend what a crash left behind."""
    from tidegate.cli.gates import chosen_gates, configuration_file
    from tidegate.load.configuration import read_configuration

    path = configuration_file(config)
    configuration = read_configuration(path)
    records = [_record(configuration, gate, dry_run) for gate in chosen_gates(configuration, gates, path)]
    _add_left_claims(configuration, records)
    failed = any(record["fault"] or any(step["fault"] for step in record["steps"]) for record in records)
    if output == "json":
        steps = [step for record in records for step in record.pop("steps")]
        click.echo(
            json.dumps({"schema": "tidegate-recover/1", "dry_run": dry_run, "gates": records, "steps": steps}, indent=1)
        )
    else:
        for record in records:
            _tell(record, dry_run)
    return 3 if failed else 0


def _record(configuration: Configuration, gate: Gate, dry_run: bool) -> dict[str, Any]:
    """What is to be mended at a gate, or was; one gate's trouble keeps no other from being told.

    served_by: the process at work there. ever_ran: it has a work folder.
    """
    from tidegate.cli.gates import paths_of, rules_of
    from tidegate.errors import GateFault
    from tidegate.gate.layout import Layout
    from tidegate.gate.lock import holder

    layout = Layout(paths_of(gate))
    steps: list[dict[str, Any]] = []
    record: dict[str, Any] = {
        "gate": gate.name,
        "served_by": holder(layout.lock),
        "work": str(gate.work),
        "ever_ran": False,
        "fault": None,
        "steps": steps,
    }
    try:
        record["ever_ran"] = layout.tickets.is_dir()
        if not record["ever_ran"]:
            return record
        done = [(step, None) for step in _looked(layout)] if dry_run else _mended(layout, rules_of(configuration, gate))
    except (GateFault, OSError) as fault:
        record["fault"] = str(fault)
        return record
    for step, trouble in done:
        steps.append(
            {
                "gate": gate.name,
                "action": step.action,
                "ticket": step.ticket,
                "path": step.path,
                "why": step.why,
                "fault": trouble,
            }
        )
    return record


def _add_left_claims(configuration: Configuration, records: list[dict[str, Any]]) -> None:
    """Claims where no gate of the configuration has its work folder are nothing to mend here: a person has to look."""
    from tidegate.cli.gates import left_by_gate
    from tidegate.gate.recover import LOOK

    by_name = {record["gate"]: record for record in records}
    for name, found, fault in left_by_gate(configuration, by_name):
        if fault is not None:
            by_name[name]["fault"] = by_name[name]["fault"] or str(fault)
        for each in found:
            row = {"gate": name, "action": LOOK, "ticket": "", "path": str(each.work)}
            by_name[name]["steps"].append({**row, "why": f"{each.what}: {each.heals}", "fault": None})


def _looked(layout: Layout) -> tuple[Step, ...]:
    from tidegate.errors import GateFault
    from tidegate.gate.recover import plan

    for _ in range(LOOKS - 1):
        try:
            return plan(layout)
        except GateFault:  # perhaps only because something was moved while it was looked at
            continue
    return plan(layout)


def _mended(layout: Layout, rules: GateRules) -> list[tuple[Step, str | None]]:
    from datetime import UTC, datetime

    from tidegate.gate.ledger import Ledger
    from tidegate.gate.lock import held
    from tidegate.gate.recover import carry_out, plan

    with held(layout.lock):
        ledger = Ledger(layout.ledger)
        try:
            results = carry_out(plan(layout), layout, rules, datetime.now(UTC), ledger.enter)
        finally:
            ledger.close()
    return [(result.step, str(result.fault) if result.fault else None) for result in results]


def _tell(record: dict[str, Any], dry_run: bool) -> None:
    from tidegate.model.printable import printable, printable_lines

    name = record["gate"]
    if record["fault"]:
        click.echo(printable_lines(f"{name}: {record['fault']}"), err=True)
        return
    if not record["ever_ran"]:
        click.echo(
            printable(f"{name}: nothing to mend: the gate never ran, or its work folder is away: {record['work']}")
        )
    served = (
        f"process {record['served_by']} is at work here; if it ended now, " if record["served_by"] and dry_run else ""
    )
    if record["ever_ran"] and not record["steps"]:
        nothing = f"{served}nothing would be left to mend" if served else "nothing to mend: no crash left anything"
        click.echo(printable(f"{name}: {nothing}"))
    elif served:
        click.echo(printable(f"{name}: {served}the next start would do this:"))
    for step in record["steps"]:
        head = "would " if dry_run else ""
        click.echo(printable(f"{name}: {head}{step['action']}: {step['path']}: {step['why']}"))
        if step["fault"]:
            click.echo(printable_lines(f"  {step['fault']}"), err=True)
