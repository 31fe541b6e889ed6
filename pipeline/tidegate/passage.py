"""The passage of a drop through judgement: two straight lists of calls that everything shares.

`tidegate check`, the Python API, an audit and the daemon all call `examine`, so they cannot disagree.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from tidegate import checks
from tidegate.judge.choose import choose
from tidegate.judge.judge import judge, needs_of
from tidegate.load.limits import ReadLimits
from tidegate.model.finding import Finding, Place
from tidegate.model.prop import Drop, Prop
from tidegate.model.verdict import RETURNED, Verdict

if TYPE_CHECKING:
    from pathlib import Path

    from tidegate.model.name_scheme import NameScheme
    from tidegate.model.order_row import OrderRow
    from tidegate.model.rule_set import RuleSet

NO_RULE_SET = "no-rule-set"


@dataclass(frozen=True, slots=True)
class Terms:
    """On what terms a drop is examined: everything a gate's configuration says about judging.

    rule_set: the gate's own set, "" none. by_category: category name field -> rule set. orders: asset name -> row.
    unit: metres per unit of files that state none; up_axis: "y" or "z" for the same files.
    pictures: kinds of pictures drawn beside the report. forced_set: `rule_set` judges whatever orders and names say;
    only a person at the command line may ask that, never a drop.
    """

    scheme: NameScheme
    rule_set: str = "first_look"
    by_category: Mapping[str, str] = field(default_factory=dict)
    rule_folders: tuple[str, ...] = ()
    libraries: tuple[Path, ...] = ()
    orders: Mapping[str, OrderRow] = field(default_factory=dict)
    owner: str = ""
    unit: float = 1.0
    up_axis: str = "y"
    limits: ReadLimits = field(default_factory=ReadLimits)
    pictures: tuple[str, ...] = ()
    forced_set: bool = False


def examine(drop: Drop, terms: Terms) -> tuple[Verdict, ...]:
    """Read, measure, judge and draw every prop of a drop. Touches nothing; may be repeated.

    The same files under the same terms give equal verdicts, on any machine.
    """
    from tidegate.load.drop import read_props

    props = read_props(
        drop,
        terms.scheme,
        unit=terms.unit,
        up_axis=terms.up_axis,
        libraries=terms.libraries,
        limits=terms.limits,
    )
    return tuple(_examined(prop, terms) for prop in props)


def _examined(prop: Prop, terms: Terms) -> Verdict:
    order = terms.orders.get(prop.name)
    if terms.forced_set:
        name, reason = terms.rule_set, "asked for by whoever runs the check"
    else:
        name, reason = choose(order, prop.field("category"), terms.rule_set, terms.by_category)
    if not name:
        return _without_rule_set(prop, reason)
    rule_set = _rule_set(name, terms)
    from tidegate.measure.measure import measure

    facts = measure(prop, needs_of(rule_set, checks.get), rule_set.settings, order)
    verdict, findings = judge(facts, rule_set, checks.get)
    pictures = _pictures(facts, findings, terms.pictures)
    return Verdict(prop.name, verdict, findings, facts, rule_set, reason, pictures)


def _rule_set(name: str, terms: Terms) -> RuleSet:
    from tidegate.load.rule_set import read_rule_set

    return read_rule_set(name, terms.rule_folders)


def _without_rule_set(prop: Prop, reason: str) -> Verdict:
    from tidegate.model.facts import Facts

    finding = Finding(
        check=NO_RULE_SET,
        level="error",
        message=f"no rule set fits `{prop.name}`: {reason}",
        place=Place(file=prop.files[0].path if prop.files else ""),
        help="give the prop a category that the gate knows, have it ordered with a rule set, or set one for the gate",
    )
    return Verdict(prop.name, RETURNED, (finding,), Facts(prop=prop, measured=frozenset()), None, reason)


def _pictures(facts: object, findings: Sequence[Finding], kinds: Sequence[str]) -> tuple[tuple[str, bytes], ...]:
    if not kinds:
        return ()
    from tidegate.draw.sidecars import draw_sidecars

    draw: Callable[..., tuple[tuple[str, bytes], ...]] = draw_sidecars
    return draw(facts, findings, kinds)
