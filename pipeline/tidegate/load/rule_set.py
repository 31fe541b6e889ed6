"""Rule sets from TOML: read, proved, joined with the sets they start from.

    title = "Furniture"
    starts_from = "first_look"

    [settings]
    assumed_map_px = 2048

    [[rule]]
    check = "texel-density-out-of-range"
    level = "error"
    for = { role = ["model"], material = ["*_wood"] }
    wanted = 512
    tolerance = 0.25

A rule is known by its check and the part of the prop it is `for`. A rule that the set it starts from has too changes
the level and the limits it states and inherits the others; a rule for another part stands beside the first, and each
runs on its own part, so a place that both are for is judged by both. A pattern behind `!` makes an exception:
`for = { material = ["!decal*"] }` is for everything but those. `level = "off"` takes a rule out, all but
`unreadable-file`, which is part of every set.
`starts_from` names a set, or a file relative to this one; the name of the set itself means the one it hides.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Sequence
from dataclasses import dataclass, fields
from pathlib import Path
from typing import Any, Protocol

import tidegate.checks
from tidegate.errors import AskedWrongly, ConfigurationFault
from tidegate.model.check import Check, Limit, Scope
from tidegate.model.finding import LEVELS
from tidegate.model.limit_value import WrongValue, accepted, kind_of, shown
from tidegate.model.nearest import did_you_mean
from tidegate.model.rule_set import Rule, RuleSet
from tidegate.model.set_settings import SETTINGS

from .faults import Faults
from .rule_folder import find_rule_set, is_path
from .toml_file import LocatedToml, read_toml

OFF = "off"
RULE_KEYS = ("check", "level", "for")
"""Keys of a rule that are not limits; no limit may have one of these names."""
ALWAYS_ON = ("unreadable-file",)
"""Checks that every set runs at error level, named in it or not: what nobody could read is never approved."""
_TOP_KEYS = ("title", "starts_from", "settings", "rule")
_SCOPE_FIELDS = tuple(field.name for field in fields(Scope))


class CheckRegistry(Protocol):
    """Where checks come from: the folder of checks, or a stand-in of a test."""

    def names(self) -> tuple[str, ...]: ...

    def get(self, name: str, /) -> Check: ...


@dataclass(frozen=True, slots=True)
class _Statement:
    """One `[[rule]]` as written. level: "" when it states none. limits: only those it states."""

    check: Check
    scope: Scope
    level: str
    limits: dict[str, Any]
    set_by: dict[str, str]
    source: str


@dataclass(frozen=True, slots=True)
class _SetFile:
    """One file of a chain, read and proved. starts_from: "" when it starts from nothing."""

    path: Path
    title: str
    starts_from: str
    statements: tuple[_Statement, ...]
    settings: dict[str, Any]
    settings_set_by: dict[str, str]


def read_rule_set(
    name_or_path: str | Path, folders: Sequence[str | Path] = (), registry: CheckRegistry = tidegate.checks
) -> RuleSet:
    """The rule set of that name or file with its effective rules, ordered fix-first, then by name and part.

    folders: the studio's own rule folders, searched before the shipped sets. Raises AskedWrongly when there is no such
    set, and ConfigurationFault with every fault of every file it rests on.
    """
    faults = Faults()
    chain = _chain(find_rule_set(name_or_path, folders), folders, registry, faults)
    faults.raise_any()
    rules = _effective_rules(chain, registry)
    if all(rule.check in ALWAYS_ON for rule in rules):
        # A set without a rule would approve everything.
        raise ConfigurationFault(
            "judges nothing: none of its rules is on", path=str(chain[0].path), help="add a [[rule]] with its check"
        )
    settings, settings_set_by = _effective_settings(chain)
    return RuleSet(
        name=chain[0].path.stem,
        title=next((one.title for one in chain if one.title), chain[0].path.stem),
        rules=rules,
        sha256=_fingerprint(rules, settings),
        settings=settings,
        settings_set_by=settings_set_by,
        files=tuple(str(one.path) for one in chain),
    )


def _chain(first: Path, folders: Sequence[str | Path], registry: CheckRegistry, faults: Faults) -> list[_SetFile]:
    """The set's own file first, then the one it starts from, and so on."""
    chain: list[_SetFile] = []
    seen: list[Path] = []
    path = first
    while True:
        seen.append(path.resolve())
        try:
            toml = read_toml(path)
        except ConfigurationFault as fault:
            faults.take(fault)
            return chain
        label = path.name if all(one.path.name != path.name for one in chain) else f"{path.parent.name}/{path.name}"
        chain.append(_set_file(path, label, toml, registry, faults))
        parent = chain[-1].starts_from
        if not parent:
            return chain
        line = toml.line_of("starts_from")
        try:
            path = find_rule_set(path.parent / parent if is_path(parent) else parent, folders, passing_over=path)
        except AskedWrongly as error:
            faults.add(f"starts from a rule set that is not there: {error.what}", toml.path, line, help=error.help)
            return chain
        if path.resolve() in seen:
            faults.add("starts from itself by way of other sets", toml.path, line, came=shown(parent))
            return chain


def _set_file(path: Path, label: str, toml: LocatedToml, registry: CheckRegistry, faults: Faults) -> _SetFile:
    values = toml.values
    _refuse_unknown_keys(toml, (), values, _TOP_KEYS, faults)
    settings, settings_set_by = _settings(toml, label, faults)
    return _SetFile(
        path=path,
        title=_text(toml, ("title",), values.get("title", ""), faults),
        starts_from=_text(toml, ("starts_from",), values.get("starts_from", ""), faults),
        statements=_statements(toml, label, registry, faults),
        settings=settings,
        settings_set_by=settings_set_by,
    )


def _settings(toml: LocatedToml, label: str, faults: Faults) -> tuple[dict[str, Any], dict[str, str]]:
    table = toml.values.get("settings", {})
    if not isinstance(table, dict):
        faults.add("`settings` is not a table", toml.path, toml.line_of("settings"), help="write [settings]")
        return {}, {}
    _refuse_unknown_keys(toml, ("settings",), table, [one.name for one in SETTINGS], faults)
    return _limits(toml, ("settings",), table, SETTINGS, label, faults)


def _statements(toml: LocatedToml, label: str, registry: CheckRegistry, faults: Faults) -> tuple[_Statement, ...]:
    tables = toml.values.get("rule", [])
    if not isinstance(tables, list) or not all(isinstance(table, dict) for table in tables):
        faults.add(
            "`rule` is not a list of rules", toml.path, toml.line_of("rule"), help="write [[rule]] above each rule"
        )
        return ()
    found: dict[tuple[str, Scope], _Statement] = {}
    for number, table in enumerate(tables):
        statement = _statement(toml, ("rule", number), table, label, registry, faults)
        if statement is None:
            continue
        key = (statement.check.name, statement.scope)
        if key in found:
            faults.add(
                f"`{statement.check.name}` has a rule for the same part already",
                toml.path,
                toml.line_of("rule", number),
                came=f"the other one is {found[key].source}",
                help="join the two, or give one of them another `for`",
            )
        found.setdefault(key, statement)
    return tuple(found.values())


def _statement(
    toml: LocatedToml,
    where: tuple[str | int, ...],
    table: dict[str, Any],
    label: str,
    registry: CheckRegistry,
    faults: Faults,
) -> _Statement | None:
    """One rule, or None when its check is not known and nothing more can be said of it."""
    name = table.get("check")
    if not isinstance(name, str) or name not in registry.names():
        if name is None:
            what = "a rule names no check"
        elif isinstance(name, str):
            what = f"there is no check named `{name}`"
        else:
            what = f"`check` takes a text, not {kind_of(name)}"
        hint = did_you_mean(name, registry.names()) if isinstance(name, str) else 'write check = "name-of-a-check"'
        faults.add(what, toml.path, toml.line_of(*where, "check"), help=hint)
        return None
    check = registry.get(name)
    known = [*RULE_KEYS, *(limit.name for limit in check.limits)]
    _refuse_unknown_keys(toml, where, table, known, faults, f"`{name}`")
    limits, set_by = _limits(toml, where, table, check.limits, label, faults)
    level = _level(toml, (*where, "level"), table.get("level", ""), faults)
    if name in ALWAYS_ON and level not in ("", "error"):
        faults.add(f"`{name}` stays at error level in every set", toml.path, toml.line_of(*where, "level"))
    return _Statement(
        check=check,
        scope=_scope(toml, (*where, "for"), table.get("for", {}), check, faults),
        level=level,
        limits=limits,
        set_by=set_by,
        source=f"{label}:{toml.line_of(*where)}",
    )


def _limits(
    toml: LocatedToml,
    where: tuple[str | int, ...],
    table: dict[str, Any],
    limits: Sequence[Limit],
    label: str,
    faults: Faults,
) -> tuple[dict[str, Any], dict[str, str]]:
    """Values of the limits that the table states, and the line of each."""
    values: dict[str, Any] = {}
    set_by: dict[str, str] = {}
    for limit in limits:
        if limit.name not in table:
            continue
        line = toml.line_of(*where, limit.name)
        try:
            values[limit.name] = accepted(limit, table[limit.name])
            set_by[limit.name] = f"{label}:{line}"
        except WrongValue as wrong:
            faults.add(wrong.what, toml.path, line, expected=wrong.expected, came=wrong.came, help=wrong.help)
    return values, set_by


def _level(toml: LocatedToml, where: tuple[str | int, ...], value: Any, faults: Faults) -> str:
    levels = (*LEVELS, OFF)
    if value == "" or (isinstance(value, str) and value in levels):
        return str(value)
    faults.add(
        f"`level` does not know {shown(value)}",
        toml.path,
        toml.line_of(*where),
        expected="one of " + ", ".join(f'"{level}"' for level in levels),
        came=shown(value),
        help=did_you_mean(value, levels) if isinstance(value, str) else "",
    )
    return ""


def _scope(toml: LocatedToml, where: tuple[str | int, ...], table: Any, check: Check, faults: Faults) -> Scope:
    """The part of the prop a rule is for. A single pattern may stand without brackets, a tile as a number."""
    if not isinstance(table, dict):
        faults.add(
            "`for` is not a table",
            toml.path,
            toml.line_of(*where),
            came=shown(table),
            help='write for = { role = ["lod*"] }',
        )
        return Scope()
    patterns: dict[str, tuple[str, ...]] = {}
    for key, value in table.items():
        line = toml.line_of(*where, key)
        if key not in check.scope:
            honoured = sorted(check.scope)
            if key in _SCOPE_FIELDS:
                what = f"`{check.name}` cannot be limited by `{key}`"
                hint = "it can by " + ", ".join(f"`{one}`" for one in honoured) if honoured else "leave `for` out"
            else:
                what = f"unknown key `{key}` in `for`"
                hint = did_you_mean(key, honoured or _SCOPE_FIELDS)
            faults.add(what, toml.path, line, help=hint)
            continue
        items = value if isinstance(value, list) else [value]
        if not items or not all(_is_pattern(item, key) for item in items):
            faults.add(
                f"`{key}` in `for` takes a list of name patterns",
                toml.path,
                line,
                expected="one or more texts, `*` and `?` stand for any letters, `!` before one takes out what it fits",
                came=shown(value),
            )
            continue
        patterns[key] = tuple(sorted({str(item) for item in items}))
    return Scope(**patterns)


def _is_pattern(item: Any, key: str) -> bool:
    number = key in ("tile", "uv_layer") and isinstance(item, int) and not isinstance(item, bool)
    return number or (isinstance(item, str) and item != "")


def _text(toml: LocatedToml, where: tuple[str | int, ...], value: Any, faults: Faults) -> str:
    if isinstance(value, str):
        return value
    faults.add(f"`{where[-1]}` takes a text", toml.path, toml.line_of(*where), came=f"{kind_of(value)} {shown(value)}")
    return ""


def _refuse_unknown_keys(
    toml: LocatedToml,
    where: tuple[str | int, ...],
    table: dict[str, Any],
    known: Sequence[str],
    faults: Faults,
    owner: str = "",
) -> None:
    for key in table:
        if key not in known:
            what = f"{owner} has no limit `{key}`" if owner else f"unknown key `{key}`"
            faults.add(what, toml.path, toml.line_of(*where, key), help=did_you_mean(key, known))


def _effective_rules(chain: Sequence[_SetFile], registry: CheckRegistry) -> tuple[Rule, ...]:
    """Rules that are on, from the chain's end to its beginning, each statement laid over the earlier of its key."""
    always = [registry.get(name) for name in ALWAYS_ON if name in registry.names()]
    merged = {(check.name, Scope()): _Statement(check, Scope(), "error", {}, {}, "every set") for check in always}
    for statement in (one for file in reversed(chain) for one in file.statements):
        key = (statement.check.name, statement.scope)
        earlier = merged.get(key)
        if earlier is not None:
            statement = _Statement(
                check=statement.check,
                scope=statement.scope,
                level=statement.level or earlier.level,
                limits={**earlier.limits, **statement.limits},
                set_by={**earlier.set_by, **statement.set_by},
                source=statement.source,
            )
        merged[key] = statement
    ordered = sorted(
        merged.values(), key=lambda one: (one.check.stage, one.check.name, json.dumps(_scope_table(one.scope)))
    )
    return tuple(_rule(one) for one in ordered if (one.level or one.check.level) != OFF)


def _rule(statement: _Statement) -> Rule:
    check = statement.check
    limits, set_by = _with_defaults(check.limits, statement.limits, statement.set_by, "default of the check")
    return Rule(
        check=check.name,
        level=statement.level or check.level,
        limits=limits,
        scope=statement.scope,
        set_by=set_by,
        source=statement.source,
    )


def _effective_settings(chain: Sequence[_SetFile]) -> tuple[dict[str, Any], dict[str, str]]:
    values: dict[str, Any] = {}
    set_by: dict[str, str] = {}
    for file in reversed(chain):
        values |= file.settings
        set_by |= file.settings_set_by
    return _with_defaults(SETTINGS, values, set_by, "default")


def _with_defaults(
    limits: Sequence[Limit], values: dict[str, Any], set_by: dict[str, str], default: str
) -> tuple[dict[str, Any], dict[str, str]]:
    return (
        {limit.name: values.get(limit.name, accepted(limit, limit.default)) for limit in limits},
        {limit.name: set_by.get(limit.name, default) for limit in limits},
    )


def _scope_table(scope: Scope) -> dict[str, list[str]]:
    return {key: list(getattr(scope, key)) for key in _SCOPE_FIELDS if getattr(scope, key)}


def _fingerprint(rules: Sequence[Rule], settings: dict[str, Any]) -> str:
    """SHA-256 over canonical JSON of everything that decides a verdict; titles, files and lines do not."""
    content = {
        "rules": [
            {"check": rule.check, "level": rule.level, "limits": rule.limits, "for": _scope_table(rule.scope)}
            for rule in rules
        ],
        "settings": settings,
    }
    text = json.dumps(content, sort_keys=True, separators=(",", ":"), ensure_ascii=True, allow_nan=False)
    return hashlib.sha256(text.encode("ascii")).hexdigest()
