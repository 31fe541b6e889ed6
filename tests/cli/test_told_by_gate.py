"""Every name a report may show is explained by `tidegate why`, also those that no check has."""

from __future__ import annotations

import json
import re
from pathlib import Path

import pytest

from tests.support.command_line import tidegate
from tidegate import checks
from tidegate.cli.told_by_gate import TOLD_BY_GATE, ToldByGate

PACKAGE = Path(__file__).resolve().parents[2] / "pipeline" / "tidegate"


def names_in_the_source() -> set[str]:
    """Names that findings are made with outside the checks, in whatever way: the first text after `Finding(` or `Refusal(`, and
    the two names that stand in constants."""
    found = set()
    for path in (path for folder in ("gate", "judge", "report") for path in (PACKAGE / folder).rglob("*.py")):
        found |= set(re.findall(r'(?:Finding|Refusal)\(\s*"([a-z]+(?:-[a-z]+)*)"', path.read_text("utf-8")))
        found |= set(re.findall(r'^CHECK_FAILED = "([a-z-]+)"', path.read_text("utf-8"), re.MULTILINE))
    passage = (PACKAGE / "passage.py").read_text("utf-8")
    found |= set(re.findall(r'Finding\(\s*"([a-z]+(?:-[a-z]+)*)"', passage))
    return found | set(re.findall(r'^NO_RULE_SET = "([a-z-]+)"', passage, re.MULTILINE))


def test_every_name_outside_the_checks_is_explained_and_no_other() -> None:
    in_source = names_in_the_source() - set(checks.names())
    assert {"no-rule-set", "check-failed", "name-taken", "re-dropped", "layout-changed-maps-not"} <= in_source
    assert in_source == {one.name for one in TOLD_BY_GATE}


@pytest.mark.parametrize("one", TOLD_BY_GATE, ids=lambda one: one.name)
def test_it_is_told_to_people_and_to_programs(one: ToldByGate) -> None:
    page = tidegate("why", one.name, "--set", "furniture")
    assert (page.code, page.err) == (0, "") and page.out.startswith(f"{one.name}\n{'=' * len(one.name)}\n")
    assert one.put_right in " ".join(page.out.split()) and f"  {one.level}; " in page.out
    shown = json.loads(tidegate("why", one.name, "--format", "json").out)
    assert (shown["check"], shown["level"], shown["when"]) == (one.name, one.level, one.when)


def test_the_list_of_checks_names_them_too() -> None:
    assert all(f"`{one.name}`" in tidegate("why").out for one in TOLD_BY_GATE)
