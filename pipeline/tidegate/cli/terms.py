"""From configuration and options to the terms on which drops are examined."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from tidegate.cli.options import find_configuration
from tidegate.errors import AskedWrongly

if TYPE_CHECKING:
    from tidegate.model.name_scheme import NameScheme
    from tidegate.model.settings import Configuration, Gate
    from tidegate.passage import Terms


def terms_for(
    config: str | None,
    *,
    gate: str | None,
    set_name: str | None,
    unit: str | None,
    up_axis: str | None,
    pictures: bool,
    judging: bool = True,
) -> Terms:
    """The terms for `check`. Without a configuration: the shipped names scheme and the set `first_look`.

    judging: False where drops are only read, so that nothing is told of a rule set.
    """
    from tidegate.load.names_file import read_names
    from tidegate.passage import Terms

    path = find_configuration(config)
    if path is None:
        if gate:
            raise AskedWrongly(
                f"there is no configuration to find the gate `{gate}` in", help="name it with --config FILE"
            )
        terms = Terms(scheme=read_names(), pictures=_ALL_PICTURES if pictures else ())
    else:
        from tidegate.load.configuration import read_configuration

        configuration = read_configuration(path)
        chosen = _chosen(configuration, gate)
        terms = gate_terms(configuration, chosen)
        if judging and chosen is None and not set_name:
            _tell_no_gate(configuration, path, terms.rule_set)
        if not pictures:
            terms = _replaced(terms, pictures=())
        elif not terms.pictures:
            terms = _replaced(terms, pictures=_ALL_PICTURES)
    changes: dict[str, Any] = {}
    if set_name:
        from tidegate.load.rule_set import read_rule_set

        # Read here, so that a mistyped name or a broken set is told whatever there is to check.
        forced = read_rule_set(set_name, terms.rule_folders)
        changes.update(rule_set=set_name, forced_set=True, rule_sets={**terms.rule_sets, set_name: forced})
    if unit:
        changes["unit"] = metres_of(unit)
    if up_axis:
        changes["up_axis"] = up_axis
    return _replaced(terms, **changes)


_ALL_PICTURES = ("fault_sheet", "cut_out")


def gate_terms(configuration: Configuration, gate: Gate | None) -> Terms:
    """The terms of one gate of a configuration; of none, what the studio says for all."""
    from tidegate.load.names_file import read_names
    from tidegate.passage import Terms

    studio = configuration.studio
    folders = tuple(str(folder) for folder in studio.rule_folders)
    common: dict[str, Any] = {
        "scheme": read_names(studio.names),
        "rule_folders": folders,
        "libraries": tuple(studio.library_folders),
    }
    if gate is None:
        return Terms(**common)
    orders: dict[str, Any] = {}
    if gate.order_list is not None:
        from tidegate.load.order_list import read_order_list

        scheme: NameScheme = common["scheme"]
        categories = {*scheme.words_of("category"), *gate.rule_set_by_category}
        orders = dict(read_order_list(gate.order_list, slots=scheme.slot_names, categories=categories))
    return Terms(
        **common,
        rule_set=gate.rule_set,
        by_category=dict(gate.rule_set_by_category),
        orders=orders,
        owner=gate.owner,
        unit=gate.unit,
        up_axis=gate.up_axis,
        pictures=tuple(gate.pictures),
        place=tuple(gate.place),
    )


def with_rule_sets(terms: Terms) -> Terms:
    """The same terms with every rule set they may call for read and proved: the gate's, the categories', the orders'."""
    from tidegate.load.rule_set import read_rule_set

    names = {terms.rule_set, *terms.by_category.values(), *(row.rule_set for row in terms.orders.values())} - {""}
    return _replaced(terms, rule_sets={name: read_rule_set(name, terms.rule_folders) for name in sorted(names)})


def metres_of(unit: str) -> float:
    """Metres per unit, from a unit's name or a number."""
    from tidegate.model.units import METRES

    if unit in METRES:
        return METRES[unit]
    try:
        value = float(unit)
    except ValueError:
        value = 0.0
    if not 1e-6 <= value <= 1e6:
        raise AskedWrongly(
            f"`{unit}` is no unit", expected=f"one of {', '.join(METRES)}, or metres per unit, such as 0.01"
        )
    return value


def _chosen(configuration: Configuration, name: str | None) -> Gate | None:
    from tidegate.model.nearest import did_you_mean

    if name is None:
        return configuration.gates[0] if len(configuration.gates) == 1 else None
    gate = configuration.gate(name)
    if gate is None:
        raise AskedWrongly(
            f"there is no gate named `{name}`", help=did_you_mean(name, [one.name for one in configuration.gates])
        )
    return gate


def _tell_no_gate(configuration: Configuration, path: str, rule_set: str) -> None:
    """Whoever keeps a configuration expects its rules; with several gates none of them is meant more than the others."""
    import click

    from tidegate.model.printable import printable
    from tidegate.model.wording import one_of

    names = [f"`{gate.name}`" for gate in configuration.gates]
    has = f"{len(names)} gates and none was asked for" if names else "no gate"
    help_ = f"--gate judges on the terms of one: {one_of(names)}" if names else "--set NAME judges by another"
    told = f"tidegate: {path} has {has}, so `{rule_set}` judges, without orders and categories\n  help: {help_}"
    for line in told.split("\n"):
        click.echo(printable(line), err=True)


def _replaced(terms: Terms, **changes: Any) -> Terms:
    from dataclasses import replace

    return replace(terms, **changes) if changes else terms
