"""`tidegate why [CHECK]`"""

from __future__ import annotations

import json
import textwrap
from typing import Any

import click

from tidegate.cli.exit_codes import told
from tidegate.cli.options import format_option, rule_folders


@click.command(
    "why",
    epilog=f"""\b
Examples:
  tidegate why                          all checks, a line each, under what they look at
  tidegate why --set handheld           with the level each has in that set
  tidegate why tilted-islands           one check, in full
  tidegate why tilted-islands --set handheld
                                        with the level and limits in force in that set

{told(done="explained", wrongly="there is no such check or rule set, or asked wrongly")}""",
)
@click.argument("check", required=False)
@click.option(
    "--set", "set_name", metavar="NAME", help="Show level and limits as this rule set, a name or a file, has them."
)
@click.option("--config", metavar="FILE", help="Configuration whose rule folders are searched too.")
@format_option
def command(check: str | None, set_name: str | None, config: str | None, output: str) -> int:
    """Explain a check: what it looks at, why it matters, how to put it right."""
    from tidegate import checks
    from tidegate.cli import told_by_gate

    if check and (of_gate := told_by_gate.told_by_gate(check)):
        click.echo(
            json.dumps(told_by_gate.record(of_gate), indent=2) if output == "json" else told_by_gate.page(of_gate)
        )
        return 0
    rules = _rules(set_name, config)
    names = [check] if check else list(checks.names())
    records = [_record(checks.get(name), rules) for name in names]
    if output == "json":
        click.echo(json.dumps(records if not check else records[0], indent=2))
    elif check:
        click.echo(_page(records[0], set_name))
    else:
        from tidegate.cli.check_list import check_list
        from tidegate.cli.width import terminal_width

        stages = {name: checks.get(name).stage for name in names}
        click.echo(check_list(sorted(records, key=lambda one: stages[one["check"]]), set_name, terminal_width()))
        click.echo(f"\n{told_by_gate.listed()}\n\n`tidegate why CHECK` tells one in full")
    return 0


def _rules(set_name: str | None, config: str | None) -> list[Any]:
    if not set_name:
        return []
    from tidegate import checks
    from tidegate.load.rule_set import read_rule_set

    return list(read_rule_set(set_name, rule_folders(config), registry=checks).rules)


def _record(check: Any, rules: list[Any]) -> dict[str, Any]:
    in_force = [
        {"level": rule.level, "limits": rule.limits, "set_by": rule.set_by, "source": rule.source}
        for rule in rules
        if rule.check == check.name
    ]
    return {
        "check": check.name,
        "group": check.group,
        "level": check.level,
        "looks_at": check.looks_at,
        "why": check.why,
        "put_right": check.put_right,
        "blind_spots": check.blind_spots,
        "part": sorted(check.scope),
        "limits": [
            {
                "name": limit.name,
                "kind": limit.kind,
                "default": limit.default,
                "unit": limit.unit,
                "choices": list(limit.choices),
                "explanation": limit.explanation,
            }
            for limit in check.limits
        ],
        "in_force": in_force,
    }


def _page(record: dict[str, Any], set_name: str | None) -> str:
    from tidegate.model.amounts import one_or_many

    lines = [record["check"], "=" * len(record["check"])]
    for title, key in (
        ("about", "group"),
        ("looks at", "looks_at"),
        ("why", "why"),
        ("put right", "put_right"),
        ("cannot see", "blind_spots"),
    ):
        lines.extend(_paragraph(title, record[key]))
    lines.extend(_paragraph("level", f"{record['level']} unless a rule says otherwise"))
    if record["part"]:
        lines.extend(_paragraph("may be for", "parts chosen by " + ", ".join(record["part"])))
    for limit in record["limits"]:
        unit = (
            f" {one_or_many(limit['default'], limit['unit'])}" if limit["unit"] and limit["default"] is not None else ""
        )
        default = "off" if limit["default"] is None else f"{_plain(limit['default'])}{unit}"
        lines.extend(_paragraph(f"limit {limit['name']}", f"{limit['explanation']} (default {default})"))
    if set_name and not record["in_force"]:
        lines.extend(_paragraph(f"in {set_name}", "not used"))
    for rule in record["in_force"]:
        limits = "; ".join(
            f"{name} = {_plain(value)} ({rule['set_by'].get(name, '')})" for name, value in rule["limits"].items()
        )
        lines.extend(_paragraph(f"in {set_name}", f"{rule['level']}, {rule['source']}. {limits}"))
    return "\n".join(lines)


def _plain(value: Any) -> str:
    if isinstance(value, bool):
        return "yes" if value else "no"
    if value is None:
        return "off"
    if isinstance(value, (list, tuple)):
        return ", ".join(_plain(item) for item in value) or "none"
    return f"{value:g}" if isinstance(value, float) else str(value)


def _paragraph(title: str, text: str) -> list[str]:
    return ["", title + ":", *textwrap.wrap(text, 76, initial_indent="  ", subsequent_indent="  ")]
