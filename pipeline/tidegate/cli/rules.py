"""`tidegate rules [NAME]`"""

from __future__ import annotations

import json
from typing import TYPE_CHECKING, Any

import click

from tidegate.cli.exit_codes import told
from tidegate.cli.options import config_option, format_option, rule_folders

if TYPE_CHECKING:
    from tidegate.model.rule_set import RuleSet


@click.command(
    "rules",
    epilog=f"""\b
Examples:
  tidegate rules                        the sets there are
  tidegate rules furniture              effective limits of one, and which line set each
  tidegate rules my_rules/crates.toml   prove a file valid and show it

{told(done="valid", wrongly="there is no such set, a file has faults, or asked wrongly")}""",
)
@click.argument("name", required=False, metavar="[NAME or FILE]")
@config_option
@format_option
def command(name: str | None, config: str | None, output: str) -> int:
    """List rule sets, show one with its effective limits, prove a file valid."""
    from tidegate.load.rule_set import read_rule_set

    folders = rule_folders(config)
    if name is None:
        return _list(folders, output)
    rule_set = read_rule_set(name, folders)
    record = _record(rule_set)
    click.echo(json.dumps(record, indent=1) if output == "json" else _page(record))
    return 0


def _list(folders: tuple[str, ...], output: str) -> int:
    from tidegate.errors import AskedWrongly
    from tidegate.load.rule_folder import rule_sets
    from tidegate.load.rule_set import read_rule_set

    records = []
    for name, path in rule_sets(folders):
        try:
            rule_set = read_rule_set(path, folders)
        except AskedWrongly as fault:
            records.append({"name": name, "file": str(path), "title": None, "fault": str(fault)})
        else:
            records.append({"name": name, "file": str(path), "title": rule_set.title, "fault": None})
    if output == "json":
        click.echo(json.dumps(records, indent=1))
    else:
        for record in records:
            click.echo(f"{record['name']:<16}{record['title'] or 'BROKEN'}")
            click.echo(f"{'':<16}{record['file']}")
            if record["fault"]:
                click.echo("\n".join(f"{'':<16}{line}" for line in str(record["fault"]).splitlines()))
    return 2 if any(record["fault"] for record in records) else 0


def _record(rule_set: RuleSet) -> dict[str, Any]:
    return {
        "name": rule_set.name,
        "title": rule_set.title,
        "sha256": rule_set.sha256,
        "files": list(rule_set.files),
        "settings": [
            {"name": key, "value": _plain(value), "set_by": rule_set.settings_set_by.get(key, "")}
            for key, value in rule_set.settings.items()
        ],
        "rules": [
            {
                "check": rule.check,
                "level": rule.level,
                "source": rule.source,
                "for": {
                    key: list(getattr(rule.scope, key)) for key in rule.scope.__slots__ if getattr(rule.scope, key)
                },
                "limits": [
                    {
                        "name": key,
                        "value": _plain(value),
                        "unit": _unit(rule.check, key),
                        "set_by": rule.set_by.get(key, ""),
                    }
                    for key, value in rule.limits.items()
                ],
            }
            for rule in rule_set.rules
        ],
    }


def _plain(value: Any) -> Any:
    return list(value) if isinstance(value, tuple) else value


def _unit(check: str, limit: str) -> str:
    from tidegate import checks

    return next((one.unit for one in checks.get(check).limits if one.name == limit), "")


def _page(record: dict[str, Any]) -> str:
    from tidegate.model.amounts import one_or_many
    from tidegate.model.wording import count

    lines = [
        f"{record['name']}: {record['title']}",
        f"sha256 {record['sha256']}",
        "read from " + ", ".join(record["files"]),
    ]
    lines.append("")
    for setting in record["settings"]:
        lines.append(f"  {setting['name']} = {_shown(setting['value'])}   [{setting['set_by']}]")
    for rule in record["rules"]:
        part = "; ".join(f"{key} {', '.join(patterns)}" for key, patterns in rule["for"].items())
        lines.append("")
        lines.append(f"{rule['check']}: {rule['level']}" + (f", for {part}" if part else "") + f"   [{rule['source']}]")
        for limit in rule["limits"]:
            unit = (
                f" {one_or_many(limit['value'], limit['unit'])}" if limit["unit"] and limit["value"] is not None else ""
            )
            lines.append(f"  {limit['name']} = {_shown(limit['value'])}{unit}   [{limit['set_by']}]")
    lines.append("")
    lines.append(f"{record['name']} is valid: {count(len(record['rules']), 'rule')}")
    return "\n".join(lines)


def _shown(value: Any) -> str:
    if value is None:
        return "off"
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, list):
        return "[" + ", ".join(_shown(item) for item in value) + "]"
    return f"{value:g}" if isinstance(value, float) else str(value)
