"""The page that explains every check, from the registry and the shipped rule sets, as Markdown. Pure text."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Any

from tidegate.model.amounts import one_or_many
from tidegate.model.check import GROUPS, Check, Limit
from tidegate.model.limit_value import accepted, bounds_text
from tidegate.model.rule_set import Rule, RuleSet

OPENING = """# Rule sets and checks

This page is generated from the checks themselves: `python -m tests.make_rules_readme` writes it anew, and a test fails
while it is stale. `tidegate why CHECK` prints the same for one check, `tidegate rules NAME` shows a set with the line
that set each limit.

A rule set is a TOML file of rules: which check, at which level, with which limits, for which part of the prop. An `error`
returns the prop; a `warning` or a `note` is only told; `off` is not looked at. A set may start from another one and says
only what differs. Copy a set of this folder, or start yours from it:

```toml
title = "Fish crates"
starts_from = "furniture"

[[rule]]
check = "triangles-over-budget"
level = "error"
# triangles: of a role at most
most = 1200
for = { role = ["model"] }
```

`for` takes names with `*` and `?`, and a name behind `!` is taken out. A deliberate exception is two rules: the one of the set
it starts from is switched off, and one for everything else states its limits.

```toml
[[rule]]
check = "tilted-islands"
level = "off"

[[rule]]
check = "tilted-islands"
level = "error"
for = { material = ["!decal_*"] }
```

Checks stand under what they look at. In a group they stand in the order in which faults are mended: a fault further up
often is the cause of those below it.
"""


def checks_page(checks: Iterable[Check], sets: Sequence[RuleSet]) -> str:
    """The page. checks: all there are. sets: the shipped ones, in the order of the columns."""
    ordered = sorted(checks, key=lambda check: (check.stage, check.name))
    groups = [(group, [check for check in ordered if check.group == group]) for group in GROUPS]
    lines = [OPENING.rstrip(), "", "## At a glance"]
    for group, here in groups:
        if here:
            head = [f"**{group}**", *(one.name for one in sets)]
            lines += ["", *_table(head, [_row(check, sets) for check in here])]
    for group, here in groups:
        if here:
            lines += ["", f"## {group[:1].upper()}{group[1:]}"]
        for check in here:
            lines += ["", *_check(check, sets)]
    return "\n".join(lines) + "\n"


def _row(check: Check, sets: Sequence[RuleSet]) -> list[str]:
    return [f"[{check.name}](#{check.name})", *(_levels(check, one) for one in sets)]


def _levels(check: Check, rule_set: RuleSet) -> str:
    levels = [rule.level for rule in _rules(check, rule_set)]
    return ", ".join(dict.fromkeys(levels)) or "off"


def _rules(check: Check, rule_set: RuleSet) -> list[Rule]:
    return [rule for rule in rule_set.rules if rule.check == check.name]


def _check(check: Check, sets: Sequence[RuleSet]) -> list[str]:
    lines = [f"### {check.name}", ""]
    lines += [f"- **Looks at:** {_cell(check.looks_at)}"]
    lines += [f"- **Why:** {_cell(check.why)}"]
    lines += [f"- **Put right:** {_cell(check.put_right)}"]
    lines += [f"- **Cannot see:** {_cell(check.blind_spots)}"]
    if check.scope:
        fields = ", ".join(f"`{name}`" for name in sorted(check.scope))
        lines += [f"- **May be for a part of the prop**, chosen by {fields}"]
    if check.limits:
        lines += ["", *_table(["limit", "default", *(one.name for one in sets), "meaning"], _limits(check, sets))]
    return lines


def _limits(check: Check, sets: Sequence[RuleSet]) -> list[list[str]]:
    rows = []
    for limit in check.limits:
        meaning = _cell(limit.explanation)
        bounds = bounds_text(limit)
        if bounds:
            meaning += f" ({bounds})"
        if limit.choices:
            meaning += f" ({', '.join(limit.choices)})"
        rows.append([f"`{limit.name}`", _default(limit), *(_in_force(check, limit, one) for one in sets), meaning])
    return rows


def _default(limit: Limit) -> str:
    value = accepted(limit, limit.default)
    unit = f" {one_or_many(value, limit.unit)}" if limit.unit and value is not None else ""
    return f"{_shown(value)}{unit}"


def _in_force(check: Check, limit: Limit, rule_set: RuleSet) -> str:
    values = [_shown(rule.limits[limit.name]) for rule in _rules(check, rule_set)]
    return "; ".join(dict.fromkeys(values)) or "-"


def _shown(value: Any) -> str:
    if value is None:
        return "off"
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, list | tuple):
        items = [_shown(item) for item in value]
        return f"{', '.join(items[:6])} and {len(items) - 6} more" if len(items) > 8 else ", ".join(items) or "none"
    if isinstance(value, dict):
        return ", ".join(f"{key} = {_shown(item)}" for key, item in value.items()) or "none"
    return _cell(f"{value:g}" if isinstance(value, float) else str(value))


def _table(head: Sequence[str], rows: Iterable[Sequence[str]]) -> list[str]:
    return [
        f"| {' | '.join(head)} |",
        f"|{' --- |' * len(head)}",
        *(f"| {' | '.join(row)} |" for row in rows),
    ]


def _cell(text: str) -> str:
    return text.replace("|", "\\|").replace("\n", " ")
