"""What `watch --dry-run` shows: the drops that lie in the inboxes and how they would be judged. Moves nothing."""

from __future__ import annotations

import json
from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

import click

from tidegate.cli.exit_codes import code_for
from tidegate.model.printable import printable
from tidegate.model.wording import count

if TYPE_CHECKING:
    from pathlib import Path

    from tidegate.gate.scan import SeenFile
    from tidegate.gate.settings import Questions
    from tidegate.model.settings import Configuration, Gate
    from tidegate.model.verdict import Verdict


def show(configuration: Configuration, gates: Sequence[Gate], output: str) -> int:
    """Judges every drop of the inboxes where it lies and says where it would go."""
    from tidegate.cli.gates import paths_of, questions, rules_of
    from tidegate.cli.terms import gate_terms, with_rule_sets
    from tidegate.gate.grouping import drops_in
    from tidegate.gate.scan import look
    from tidegate.load.listing import list_drop
    from tidegate.passage import examine

    rows: list[dict[str, Any]] = []
    for gate in gates:
        if not gate.inbox.is_dir():
            click.echo(f"tidegate: the inbox of gate {gate.name} is not there: {gate.inbox}", err=True)
            continue
        terms = with_rule_sets(gate_terms(configuration, gate))
        rules = rules_of(configuration, gate)
        paths = paths_of(gate)
        asked = questions(paths.inbox, terms.scheme)
        seen = look(paths.inbox, rules)

        def wanted(file: SeenFile, asked: Questions = asked, inbox: Path = paths.inbox) -> Sequence[str]:
            return asked.wanted(inbox / file.path)

        for drop in drops_in(seen, rules, asked, wanted):
            if drop.kind == "archive":
                rows.append(
                    {
                        "gate": gate.name,
                        "drop": drop.name,
                        "prop": None,
                        "verdict": None,
                        "to": None,
                        "reason": "an archive: it is unpacked and judged when it is taken in",
                    }
                )
                continue
            places = paths.inbox / drop.name if drop.kind == "folder" else [paths.inbox / f.path for f in drop.files]
            for verdict in examine(list_drop(places, terms.scheme, name=drop.name), terms):
                to = {"approved": gate.delivery, "returned": gate.returned, "unjudged": gate.aside}[verdict.verdict]
                rows.append(
                    {
                        "gate": gate.name,
                        "drop": drop.name,
                        "prop": verdict.prop,
                        "verdict": verdict.verdict,
                        "to": str(to),
                        "reason": _reason(verdict),
                    }
                )
    if output == "json":
        click.echo(json.dumps({"schema": "tidegate-dry-run/1", "props": rows}, indent=1))
    else:
        for row in rows:
            if row["verdict"] is None:
                click.echo(printable(f"{row['gate']}: {row['drop']}: {row['reason']}"))
                continue
            told = f"{row['prop']} would be {row['verdict']}, into {row['to']}"
            click.echo(printable(f"{row['gate']}: {row['drop']}: {told}"))
            if row["reason"]:
                click.echo(printable(f"  {row['reason']}"))
        click.echo("nothing was moved" if rows else "nothing to take in")
    return int(code_for(row["verdict"] for row in rows if row["verdict"]))


def _reason(verdict: Verdict) -> str:
    """The first error and how many more there are, "" of an approved prop."""
    errors = [finding.message for finding in verdict.findings if finding.level == "error"]
    if not errors:
        return ""
    return errors[0] + (f", and {count(len(errors) - 1, 'more error')}" if len(errors) > 1 else "")
