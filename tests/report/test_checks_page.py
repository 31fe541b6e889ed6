"""The page that explains every check: whole, escaped, and as it lies beside the rule sets."""

from __future__ import annotations

from tests.make_rules_readme import PAGE, page
from tidegate import checks
from tidegate.model.check import Check, Limit
from tidegate.model.rule_set import Rule, RuleSet
from tidegate.report.checks_page import checks_page


def test_the_page_beside_the_rule_sets_is_up_to_date() -> None:
    assert PAGE.is_file() and PAGE.read_text("utf-8") == page(), (
        "rules/README.md is stale: run `python -m tests.make_rules_readme`"
    )


def test_every_check_and_every_limit_is_on_it() -> None:
    text = page()
    for name in checks.names():
        assert text.count(f"\n### {name}\n") == 1, name
        assert f"\n| [{name}](#{name}) |" in text
        section = text.split(f"\n### {name}\n")[1].split("\n### ")[0]
        for limit in checks.get(name).limits:
            assert f"| `{limit.name}` |" in section


def check(**more: object) -> Check:
    fields = {
        "name": "rope-frayed",
        "group": "mesh",
        "stage": 41,
        "needs": frozenset({"files"}),
        "looks_at": "ends | of rope",
    }
    return Check(**{**fields, "why": "it parts", "put_right": "splice it", "blind_spots": "the core", **more})


def rule_set(name: str, *rules: Rule) -> RuleSet:
    return RuleSet(name, name, rules, "")


def test_levels_and_limits_stand_under_their_set() -> None:
    limits = (
        Limit("most", "integer", None, "strands", "strands that may be loose", low=1),
        Limit("kinds", "texts", ["hemp"], "", "ropes that are looked at"),
    )
    one = rule_set("quay", Rule("rope-frayed", "error", {"most": 3, "kinds": ("hemp", "sisal")}))
    two = rule_set("yard")
    text = checks_page([check(limits=limits)], [one, two])
    assert "| **mesh** | quay | yard |" in text
    assert "| [rope-frayed](#rope-frayed) | error | off |" in text
    assert "| `most` | off | 3 | - | strands that may be loose (at least 1 strand) |" in text
    assert "| `kinds` | hemp | hemp, sisal | - | ropes that are looked at |" in text


def test_two_rules_of_one_check_show_both_values() -> None:
    limit = Limit("most", "integer", 1, "strands", "strands that may be loose")
    both = rule_set("quay", Rule("rope-frayed", "error", {"most": 3}), Rule("rope-frayed", "note", {"most": 1}))
    assert "| error, note |" in checks_page([check(limits=(limit,))], [both])
    assert "| 3; 1 |" in checks_page([check(limits=(limit,))], [both])


def test_a_bar_in_a_sentence_ends_no_cell() -> None:
    assert "ends \\| of rope" in checks_page([check()], [])


def test_checks_stand_under_their_group_by_stage_then_name() -> None:
    late, early = check(name="a-late", stage=45), check(name="z-early", stage=40)
    other = check(name="a-map", group="maps and masters", stage=10)
    text = checks_page([other, late, early], [])
    places = ["## At a glance", "**mesh**", "**maps and masters**", "\n## Mesh", "### z-early", "### a-late"]
    places += ["\n## Maps and masters", "### a-map"]
    found = [text.index(place) for place in places]
    assert found == sorted(found)
    assert "UV layout" not in text  # a group without checks has no heading
