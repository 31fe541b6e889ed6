"""The passage of a drop through judgement: two straight lists of calls that everything shares.

`tidegate check`, the Python API, an audit and the daemon all call `examine`, so they cannot disagree.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import partial
from typing import TYPE_CHECKING, Any

from tidegate import checks
from tidegate.judge.choose import choose
from tidegate.judge.judge import judge, needs_of
from tidegate.load.limits import ReadLimits
from tidegate.model.finding import Finding, Place
from tidegate.model.letters import lettered
from tidegate.model.prop import Drop, Master, Prop, TextureMap
from tidegate.model.verdict import APPROVED, RETURNED, Verdict

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator
    from pathlib import Path

    from tidegate.gate.handed import Handed
    from tidegate.gate.outcome import DropContext, Outcome
    from tidegate.model.facts import Facts
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
    only a person at the command line may ask that, never a drop. rule_sets: sets read beforehand, so that a broken edit
    does not reach drops in hand. place: name fields that make the folders between delivery tree and prop.
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
    rule_sets: Mapping[str, RuleSet] = field(default_factory=dict)
    place: tuple[str, ...] = ("category",)


def examine(drop: Drop, terms: Terms, delivered: Callable[[Prop], Path | None] | None = None) -> tuple[Verdict, ...]:
    """Read, measure, judge and draw every prop of a drop. Touches nothing; may be repeated.

    delivered: gives the folder of the version of a prop that was delivered before, None for none: its layout is tried on maps
    that do not fit. The same files under the same terms give equal verdicts, on any machine.
    """
    props = _read(drop, terms)

    def others(prop: Prop) -> Iterator[tuple[str, Prop]]:
        yield from ((other.name, other) for other in props if other is not prop)
        folder = delivered(prop) if delivered is not None else None
        if folder is not None:
            yield from _delivered_before(folder, prop, terms)

    return tuple(_examined(prop, terms, partial(others, prop)) for prop in props)


def _read(drop: Drop, terms: Terms) -> tuple[Prop, ...]:
    from tidegate.load.drop import read_props

    return read_props(
        drop,
        terms.scheme,
        unit=terms.unit,
        up_axis=terms.up_axis,
        libraries=terms.libraries,
        limits=terms.limits,
        assets=tuple(terms.orders),
    )


def _delivered_before(folder: Path, prop: Prop, terms: Terms) -> Iterator[tuple[str, Prop]]:
    """The prop as it was delivered before; nothing where that cannot be read, which only costs the comparison."""
    from tidegate.errors import TidegateError
    from tidegate.load.listing import list_drop

    try:
        earlier = _read(list_drop(folder, terms.scheme), terms)
    except (OSError, TidegateError):
        return
    yield from (("the version delivered before", one) for one in earlier if one.name == prop.name)


def _examined(prop: Prop, terms: Terms, others: Callable[[], Iterable[tuple[str, Prop]]] | None = None) -> Verdict:
    order = terms.orders.get(prop.name)
    if terms.forced_set:
        name, reason = terms.rule_set, "asked for by whoever runs the check"
    else:
        name, reason = choose(order, prop.field("category"), terms.rule_set, terms.by_category)
    if not name:
        return _without_rule_set(prop, reason)
    rule_set = _rule_set(name, terms)
    from tidegate.geometry.beyond_numbers import beyond_numbers
    from tidegate.load.picture_reader import DiskPictures
    from tidegate.measure.measure import measure

    needs = needs_of(rule_set, checks.get) | _needs_of_pictures(terms.pictures)
    settings = {
        **rule_set.settings,
        "bleed_texels": _bleed_texels(rule_set),
        "albedo_codes": _albedo_codes(rule_set),
    }
    with beyond_numbers():
        facts = measure(prop, needs, settings, order, DiskPictures(), others)
        verdict, findings = judge(facts, rule_set, checks.get)
        if terms.pictures:
            findings = lettered(findings)
        pictures = _pictures(facts, findings, terms.pictures)
    return Verdict(prop.name, verdict, findings, facts, rule_set, reason, pictures)


def _bleed_texels(rule_set: RuleSet) -> int:
    """How far past the islands paint is looked for: as far as the strictest rule wants it."""
    wanted = [rule.limits["texels"] for rule in rule_set.rules if rule.check == "bleed-too-narrow"]
    return max(wanted, default=0)


def _albedo_codes(rule_set: RuleSet) -> tuple[tuple[float, float], ...]:
    """The pairs of greys that rules compare base color with."""
    rules = [rule.limits for rule in rule_set.rules if rule.check == "unlikely-albedo"]
    return tuple(sorted({(float(limits["darkest"]), float(limits["brightest"])) for limits in rules}))


def _rule_set(name: str, terms: Terms) -> RuleSet:
    if name in terms.rule_sets:
        return terms.rule_sets[name]
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


def _needs_of_pictures(kinds: Sequence[str]) -> frozenset[str]:
    if not kinds:
        return frozenset()
    from tidegate.draw.sidecars import needs_of_pictures

    return needs_of_pictures(kinds)


def _pictures(facts: Facts, findings: Sequence[Finding], kinds: Sequence[str]) -> tuple[tuple[str, bytes], ...]:
    if not kinds:
        return ()
    from tidegate.draw.sidecars import draw_sidecars
    from tidegate.errors import UnreadableFile
    from tidegate.load.picture_reader import DiskPictures

    def read(picture: TextureMap | Master) -> Any:
        try:
            if isinstance(picture, Master):
                return DiskPictures().merged(picture)
            return DiskPictures().pixels(picture)
        except UnreadableFile:
            return None  # told by a finding of its own, and there is nothing to cut out

    return draw_sidecars(facts, findings, kinds, read)


@dataclass(frozen=True, slots=True)
class TakeThrough:
    """What a gate calls on a claimed folder: examine, and say where each prop goes. Pickles, so workers can run it."""

    terms: Terms

    def __call__(self, root: Path, context: DropContext) -> tuple[Outcome, ...]:
        return take_through(root, context, self.terms)


def take_through(root: Path, context: DropContext, terms: Terms) -> tuple[Outcome, ...]:
    """Outcomes for the gate: every prop of the drop with its verdict, files, place and sidecars.

    Every file of the drop is in one outcome at least, so none is left behind; but for our own reports of an earlier return.
    """
    from tidegate.load.listing import list_drop

    listed = list_drop(root, terms.scheme, name=_own_name(context))
    # What is only named like a report of ours is a file as any other, and told of where no prop names it.
    files = tuple(
        replace(file, kind="other") if file.kind == "report" else file
        for file in listed.files
        if file.path not in context.reports
    )
    drop = replace(listed, files=files)
    verdicts = examine(drop, terms, partial(_newest_folder, context=context, terms=terms))
    outcomes = [_outcome(verdict, context, terms) for verdict in verdicts]
    return _with_every_file(outcomes, drop)


def _own_name(context: DropContext) -> str:
    """The drop's name as its artist gave it: a return dropped back whole carries our ticket behind it."""
    return context.drop.removesuffix(f"-{context.redrop.ticket}") if context.redrop else context.drop


def _place_and_name(prop: Prop, terms: Terms) -> tuple[tuple[str, ...], str]:
    """The folders of a prop below the delivery tree, and its name there."""
    from tidegate.model.file_stem import file_stem

    return tuple(file_stem(prop.field(part) or "no_" + part) for part in terms.place), file_stem(prop.name)


def _named(prop: Prop) -> str:
    """The prop's name as its meshes spell it: right where one of them does. "" where it has none."""
    from tidegate.load.mesh_groups import asset_of
    from tidegate.model.portable_names import comparable

    written = [one.written or asset_of(one) for one in prop.readings if one.kind == "mesh"]
    return min(written, key=lambda one: (comparable(one) != comparable(prop.name), one), default="")


def _newest_folder(prop: Prop, context: DropContext, terms: Terms) -> Path | None:
    newest = context.deliveries.newest(*_place_and_name(prop, terms))
    return newest[0] if newest is not None else None


def _outcome(verdict: Verdict, context: DropContext, terms: Terms) -> Outcome:
    from tidegate.gate.outcome import Outcome
    from tidegate.report.record import report_record
    from tidegate.report.sidecars import sidecars

    prop = verdict.facts.prop
    order = terms.orders.get(prop.name)
    owner = order.owner if order and order.owner else terms.owner
    place, name = _place_and_name(prop, terms)
    content = tuple(sorted((f.path, f.sha256) for f in prop.files if not f.library))
    verdict = _with_gate_findings(verdict, context, place, name, owner, content)
    record = report_record(
        verdict, {"ticket": context.ticket, "gate": context.gate, "owner": owner, "drop": context.drop}
    )
    return Outcome(
        prop=name,
        verdict=verdict.verdict,
        files=tuple(path for path, _ in content),
        place=place,
        owner=owner,
        sidecars=sidecars(verdict, record),
        reason=_reason(record),
        version=prop.field("version"),
        named=_named(prop),
        hashes=tuple((path, digest) for path, digest in content if digest),
    )


def _reason(record: Mapping[str, Any]) -> str:
    """The verdict in a line, with the check that stands first when there is an error."""
    from tidegate.report.text_report import verdict_line

    first = next((finding["check"] for finding in record["findings"] if finding["level"] == "error"), "")
    return f"{verdict_line(record)}, first {first}" if first else verdict_line(record)


def _with_gate_findings(
    verdict: Verdict,
    context: DropContext,
    place: tuple[str, ...],
    name: str,
    owner: str,
    content: tuple[tuple[str, str], ...],
) -> Verdict:
    """The verdict with what only the gate knows: whose name it is, what a re-drop mended, what was left behind."""
    found = []
    if verdict.verdict == APPROVED:
        from tidegate.gate.identity import Offered

        prop = verdict.facts.prop
        drop = (context.ticket, context.gate, context.claimed_at)
        offered = Offered(owner, content, prop.field("version"), _named(prop), *drop)
        refusal = context.deliveries.refusal(place, name, offered)
        if refusal is not None:
            found.append(Finding(refusal.check, "error", refusal.message, Place(file=refusal.path), help=refusal.help))
    found.extend(_against_previous(verdict, context, place, name))
    story = context.redrop
    if story is not None and story.prop in (name, verdict.prop):
        mended = (*story.mended, *(f"{path} in place of {old}" for path, old in story.instead))
        told = [
            f"{word} {', '.join(paths)}"
            for word, paths in (("mended:", mended), ("new:", story.new), ("gone:", story.missing))
            if paths
        ]
        found.append(
            Finding(
                "re-dropped", "note", f"completes the return {story.ticket}; {'; '.join(told) or 'nothing changed'}"
            )
        )
    if context.near:
        found.append(Finding("stands-alone", "note", context.near))
    for path in context.left_behind:
        found.append(
            Finding(
                "left-in-inbox",
                "note",
                f"{path} is a link or a special file; it stays in the inbox and was not opened",
                Place(file=path),
            )
        )
    if not found:
        return verdict
    refused = any(finding.level == "error" for finding in found)
    return replace(
        verdict,
        verdict=RETURNED if refused else verdict.verdict,
        findings=(
            *(f for f in found if f.level == "error"),
            *verdict.findings,
            *(f for f in found if f.level != "error"),
        ),
    )


def _against_previous(verdict: Verdict, context: DropContext, place: tuple[str, ...], name: str) -> tuple[Finding, ...]:
    """Findings against the version delivered before, from the report that lies beside it."""
    import json

    from tidegate.model.file_stem import file_stem
    from tidegate.report.previous import against_previous
    from tidegate.report.record import report_record

    newest = context.deliveries.newest(place, name)
    if newest is None:
        return ()
    found = _renamed(newest, verdict.facts.prop)
    try:
        before = json.loads((newest[0] / f"{file_stem(verdict.prop)}.tidegate.json").read_text("utf-8"))
    except (OSError, ValueError):
        return found  # a report that somebody took away only costs the comparison
    return (*found, *against_previous(before, report_record(verdict)))


def _renamed(newest: tuple[Path, Handed], prop: Prop) -> tuple[Finding, ...]:
    """A warning where the version before had another name that is written as this one is: it may be another prop."""
    from tidegate.gate.identity import spelled_before

    before = spelled_before(newest[1], _named(prop))
    if not before:
        return ()
    message = f"the version before, {newest[0].name}, was named `{before}`, and this is `{_named(prop)}`"
    help_ = "nothing is needed if it is the same prop; else give it a name of other words"
    return (Finding("renamed", "warning", message, Place(file=str(newest[0])), help=help_),)


def _with_every_file(outcomes: list[Outcome], drop: Drop) -> tuple[Outcome, ...]:
    from tidegate.gate.outcome import Outcome

    claimed = {path for outcome in outcomes for path in outcome.files}
    left = tuple(file.path for file in drop.files if file.path not in claimed)
    if not outcomes:
        return (
            Outcome(drop.name, "unjudged", left, reason="holds neither a mesh nor a map, so there is nothing to judge"),
        )
    if left:
        outcomes[0] = replace(outcomes[0], files=tuple(sorted((*outcomes[0].files, *left))))
    return tuple(outcomes)
