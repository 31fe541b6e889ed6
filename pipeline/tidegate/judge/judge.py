"""Facts and a rule set in, findings and a verdict out. Pure: no disk, no clock, no chance."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import replace

from tidegate.judge.causes import under_causes
from tidegate.model.check import Check
from tidegate.model.facts import Facts
from tidegate.model.finding import LEVELS, Finding, Place
from tidegate.model.rule_set import Rule, RuleSet
from tidegate.model.verdict import APPROVED, RETURNED, UNJUDGED

CHECK_FAILED = "check-failed"
UNREADABLE = ("unreadable-file",)


def judge(facts: Facts, rule_set: RuleSet, get: Callable[[str], Check]) -> tuple[str, tuple[Finding, ...]]:
    """Verdict and findings of one prop under one rule set.

    get: check by name (the registry). A check that breaks costs the prop an `unjudged`, with the finding `check-failed`
    naming it, and the other checks still run.
    """
    found: list[Finding] = []
    for rule in rule_set.rules:
        found.extend(_run(facts, rule, get(rule.check)))
    findings = in_order(under_causes(_without_repeats(found), facts), get)
    return verdict_of(findings), tuple(findings)


def needs_of(rule_set: RuleSet, get: Callable[[str], Check]) -> frozenset[str]:
    """The groups of facts the rules of a set read."""
    return frozenset().union(*(get(rule.check).needs for rule in rule_set.rules))


def verdict_of(findings: Iterable[Finding]) -> str:
    """`unjudged` when something could not be read or a check failed, else `returned` on any error, else `approved`."""
    verdict = APPROVED
    for finding in findings:
        if finding.check == CHECK_FAILED or (finding.check in UNREADABLE and finding.level == "error"):
            return UNJUDGED
        if finding.level == "error":
            verdict = RETURNED
    return verdict


def _run(facts: Facts, rule: Rule, check: Check) -> Iterable[Finding]:
    try:
        found = list(check.run(facts, rule.limits, rule.scope))
    except Exception as problem:  # noqa: BLE001 - one broken check must not cost the other checks their say
        yield Finding(
            check=CHECK_FAILED,
            level="error",
            message=f"the check {check.name} broke on this prop: {type(problem).__name__}: {problem}",
            help="this is a fault of tidegate, not of the prop; pass the report on to whoever keeps tidegate",
        )
        return
    for finding in found:
        yield replace(finding, check=finding.check or check.name, level=_level(rule.level, finding))


def _level(of_rule: str, finding: Finding) -> str:
    """The rule's level, or the milder one that the check asked for; what cannot be told is never worse than a note."""
    asked = finding.level or of_rule
    if not finding.certain:
        asked = "note"
    return max(of_rule, asked, key=LEVELS.index)


def _without_repeats(findings: Iterable[Finding]) -> list[Finding]:
    """Two rules of one check may see the same place with the same measure; the stricter one is kept."""
    best: dict[tuple[object, ...], Finding] = {}
    for finding in findings:
        key = (finding.check, finding.place, finding.message)
        held = best.get(key)
        if held is None or LEVELS.index(finding.level) < LEVELS.index(held.level):
            best[key] = finding
    return list(best.values())


def in_order(findings: Iterable[Finding], get: Callable[[str], Check]) -> list[Finding]:
    """Fix-first: errors before warnings before notes, in each by stage of the check, consequences behind their cause."""

    def stage(name: str) -> int:
        return 0 if name == CHECK_FAILED else get(name).stage

    def key(finding: Finding) -> tuple[object, ...]:
        return (
            LEVELS.index(finding.level),
            stage(finding.check),
            finding.check,
            _place_key(finding.place),
            finding.message,
        )

    listed = list(findings)
    # A cause stands where its worst consequence would have stood, so nothing urgent hides behind a mild head.
    worst: dict[str, int] = {}
    for finding in listed:
        if finding.cause:
            worst[finding.cause] = min(worst.get(finding.cause, len(LEVELS)), LEVELS.index(finding.level))
    heads = sorted(
        (f for f in listed if not f.cause),
        key=lambda f: (min(LEVELS.index(f.level), worst.get(f.check, len(LEVELS))), *key(f)[1:]),
    )
    followers = sorted((f for f in listed if f.cause), key=key)
    ordered: list[Finding] = []
    for position, head in enumerate(heads):
        ordered.append(head)
        if all(later.check != head.check for later in heads[position + 1 :]):
            ordered.extend(f for f in followers if f.cause == head.check)
    return ordered


def _place_key(place: Place) -> tuple[object, ...]:
    return (
        place.file,
        place.map,
        place.mesh,
        place.node,
        place.material,
        place.slot,
        place.variant,
        -1 if place.uv_layer is None else place.uv_layer,
        -1 if place.tile is None else place.tile,
        place.islands,
    )
