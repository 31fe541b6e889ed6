"""Verdicts, levels, order and causes, on findings made by hand."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import replace
from typing import Any

import pytest

from tidegate.judge.causes import under_causes
from tidegate.judge.judge import CHECK_FAILED, judge, verdict_of
from tidegate.model.check import Check, Scope
from tidegate.model.facts import Facts
from tidegate.model.finding import Finding, Place
from tidegate.model.prop import Prop
from tidegate.model.rule_set import Rule, RuleSet

FACTS = Facts(prop=Prop("net_float"), measured=frozenset())


def check_that_finds(name: str, *findings: Finding, stage: int = 60) -> Check:
    def run(facts: Facts, limits: Mapping[str, Any], scope: Scope) -> Iterable[Finding]:
        return findings

    return Check(name, "mesh", stage, frozenset(), "", "", "", "", run=run)


def finding(check: str = "", message: str = "m", level: str = "", **more: Any) -> Finding:
    return Finding(check=check, level=level, message=message, **more)


def judged(*pairs: tuple[Check, str]) -> tuple[str, tuple[Finding, ...]]:
    registry = {check.name: check for check, _ in pairs}
    rules = tuple(Rule(check.name, level) for check, level in pairs)
    return judge(FACTS, RuleSet("s", "s", rules, "0" * 64), registry.__getitem__)


def test_a_supposed_cause_counts_where_it_was_told_of_the_same_islands() -> None:
    def place(*islands: int, map: str = "oak.png", layer: int = 0) -> Place:
        return Place(islands=islands, map=map, uv_layer=layer, role="model")

    supposing = finding("tilted-islands", level="error", cause="mirrored-islands", place=place(2, 3))

    def cause_beside(*others: Finding) -> str:
        (kept,) = (f for f in under_causes([*others, supposing]) if f.check == "tilted-islands")
        return kept.cause

    assert cause_beside() == ""
    assert cause_beside(finding("mirrored-islands", level="error", place=place(1, 2, 3))) == "mirrored-islands"
    assert cause_beside(finding("mirrored-islands", level="error", place=place(1, 2))) == ""
    assert cause_beside(finding("mirrored-islands", level="error", place=place(2, 3, map="tin.png"))) == ""
    assert cause_beside(finding("mirrored-islands", level="error", place=place(2, 3, layer=1))) == ""
    assert cause_beside(finding("mirrored-islands", level="error", place=place(2, 3), certain=False)) == ""
    assert cause_beside(finding("folded-triangles", level="error", place=place(2, 3))) == ""


class TestLevels:
    def test_finding_takes_the_level_of_its_rule(self) -> None:
        for level, verdict in (("error", "returned"), ("warning", "approved"), ("note", "approved")):
            got, findings = judged((check_that_finds("a", finding()), level))
            assert [f.level for f in findings] == [level]
            assert got == verdict

    def test_a_check_may_ask_for_a_milder_level_never_a_sharper_one(self) -> None:
        _, mild = judged((check_that_finds("a", finding(level="note")), "error"))
        _, sharp = judged((check_that_finds("a", finding(level="error")), "note"))
        assert [f.level for f in (*mild, *sharp)] == ["note", "note"]

    def test_what_cannot_be_told_is_a_note_and_returns_nothing(self) -> None:
        verdict, findings = judged((check_that_finds("a", finding(certain=False)), "error"))
        assert (verdict, findings[0].level) == ("approved", "note")


class TestVerdict:
    def test_no_finding_is_approved(self) -> None:
        assert judged((check_that_finds("a"), "error")) == ("approved", ())

    def test_a_broken_check_makes_unjudged_and_the_others_still_speak(self) -> None:
        def run(facts: Facts, limits: Mapping[str, Any], scope: Scope) -> Iterable[Finding]:
            raise ZeroDivisionError("by zero")

        broken = Check("broken", "mesh", 60, frozenset(), "", "", "", "", run=run)
        verdict, findings = judged((broken, "note"), (check_that_finds("a", finding()), "error"))
        assert verdict == "unjudged"
        assert [f.check for f in findings] == [CHECK_FAILED, "a"]
        assert "broken" in findings[0].message and "by zero" in findings[0].message

    def test_unreadable_wins_over_returned_whatever_the_order(self) -> None:
        unreadable = finding("unreadable-file", level="error")
        other = finding("a", level="error")
        assert verdict_of([other, unreadable]) == verdict_of([unreadable, other]) == "unjudged"

    def test_an_unreadable_file_that_the_rules_only_note_does_not_stop_the_prop(self) -> None:
        assert verdict_of([finding("unreadable-file", level="note")]) == "approved"


class TestOrder:
    def test_errors_first_then_by_stage_then_by_name(self) -> None:
        _, findings = judged(
            (check_that_finds("late-error", finding(), stage=80), "error"),
            (check_that_finds("early-note", finding(), stage=10), "note"),
            (check_that_finds("early-error", finding(), stage=20), "error"),
            (check_that_finds("also-early", finding(), stage=20), "error"),
        )
        assert [f.check for f in findings] == ["also-early", "early-error", "late-error", "early-note"]

    def test_consequences_stand_behind_their_cause(self) -> None:
        _, findings = judged(
            (check_that_finds("texel-density-out-of-range", finding(message="d")), "error"),
            (check_that_finds("a-first", finding(), stage=5), "error"),
            (check_that_finds("unlikely-size", finding(message="u"), stage=30), "warning"),
            (check_that_finds("b-later", finding(), stage=90), "error"),
        )
        # the cause is only a warning, but explains an error: it stands among the errors
        assert [f.check for f in findings] == ["a-first", "unlikely-size", "texel-density-out-of-range", "b-later"]
        assert findings[2].cause == "unlikely-size"


class TestCauses:
    def test_four_hundred_densities_become_one_consequence_of_the_unit(self) -> None:
        many = [finding("texel-density-out-of-range", f"island {i}", "error") for i in range(400)]
        kept = under_causes([finding("unlikely-size", level="error"), *many])
        assert [(f.check, f.cause) for f in kept] == [
            ("unlikely-size", ""),
            ("texel-density-out-of-range", "unlikely-size"),
        ]
        assert kept[1].message == "island 0; and 399 findings more of the same kind"

    @pytest.mark.parametrize(("also", "cause"), [((), ""), (("oak_normal.png",), "painted-for-another-layout")])
    def test_a_cause_explains_what_the_other_maps_show_that_it_names(self, also: tuple[str, ...], cause: str) -> None:
        turned = finding("painted-for-another-layout", level="error", place=Place(map="oak_base_color.png"))
        seam = finding("seam-visible", level="note", place=Place(map="oak_normal.png"))
        kept = under_causes([replace(turned, also_maps=also), seam])
        assert [(f.check, f.cause) for f in kept] == [("painted-for-another-layout", ""), ("seam-visible", cause)]

    def test_without_the_cause_they_stay_as_they_are(self) -> None:
        many = [finding("texel-density-out-of-range", f"island {i}", "error") for i in range(3)]
        assert under_causes(many) == many

    def test_a_cause_in_one_file_does_not_explain_another_file(self) -> None:
        cause = finding("unlikely-size", level="error", place=Place(file="a.glb"))
        other = finding("texel-density-out-of-range", level="error", place=Place(file="b.glb"))
        assert under_causes([cause, other]) == [cause, other]

    def test_the_worst_level_of_those_drawn_together_is_kept(self) -> None:
        cause = finding("unlikely-size", level="note")
        mild = finding("texel-density-out-of-range", "mild", "note")
        grave = finding("texel-density-out-of-range", "grave", "error")
        kept = under_causes([cause, mild, grave])
        assert (kept[1].level, kept[1].message) == ("error", "grave; and 1 finding more of the same kind")
        assert verdict_of(kept) == "returned"


@pytest.mark.parametrize("repeats", [1, 2, 5])
def test_the_same_finding_of_two_rules_is_told_once_at_the_stricter_level(repeats: int) -> None:
    check = check_that_finds("a", finding(message="same"))
    _, findings = judged(*[(check, "note")] * repeats, (check, "error"))
    assert [f.level for f in findings] == ["error"]
