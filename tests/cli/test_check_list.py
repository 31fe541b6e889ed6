"""`tidegate why` without a name: every check once, under what it looks at, and with its level where a set is named."""

from __future__ import annotations

from typing import Any

from tests.support.command_line import tidegate
from tidegate import checks
from tidegate.cli.check_list import check_list
from tidegate.model.check import GROUPS


def test_every_check_stands_once_under_its_group() -> None:
    under: dict[str, str] = {}
    group = ""
    for line in tidegate("why").out.splitlines()[:-1]:
        if line and not line.startswith(" "):
            group = line
        elif line:
            assert line.split()[0] not in under
            under[line.split()[0]] = group
    assert under == {name: checks.get(name).group for name in checks.names()}
    assert list(dict.fromkeys(under.values())) == list(GROUPS)


def test_with_a_set_each_line_has_the_level_it_has_there() -> None:
    lines = {line.split()[0]: line for line in tidegate("why", "--set", "first_look").out.splitlines() if line}
    assert lines["unreadable-file"].split()[1] == "error"
    assert lines["unused-reference"].split()[1] == "note"
    assert lines["pivot-out-of-place"].split()[1] == "off"  # first_look has no rule for it


def record(name: str, sense: str, *levels: str) -> dict[str, Any]:
    return {"check": name, "group": "mesh", "looks_at": sense, "in_force": [{"level": level} for level in levels]}


SENSE = "ends of every rope on the quay, wet or dry, against the list of the rope walk"


def test_a_pipe_gets_the_whole_sense_on_one_line() -> None:
    assert check_list([record("rope-frayed", SENSE)], None, None) == f"mesh\n  rope-frayed  {SENSE}"


def test_a_terminal_gets_the_sense_wrapped_beside_the_name() -> None:
    # "  rope-frayed  " is 15 columns before the sense
    assert len(check_list([record("rope-frayed", SENSE)], None, 15 + len(SENSE)).splitlines()) == 2
    lines = check_list([record("rope-frayed", SENSE)], None, 14 + len(SENSE)).splitlines()
    assert lines[2] == " " * 15 + "walk"


def test_a_narrow_terminal_gets_the_sense_below_the_name() -> None:
    lines = check_list([record("rope-frayed", SENSE, "error")], "quay", 40).splitlines()
    assert lines[1] == "  rope-frayed  error"
    assert " ".join(" ".join(lines[2:]).split()) == SENSE
    assert all(len(line) <= 40 for line in lines)


def test_a_check_with_several_rules_shows_the_strictest_level_and_that_there_are_more() -> None:
    assert "rope-frayed  warning +  " in check_list([record("rope-frayed", SENSE, "note", "warning")], "quay", None)
    assert "rope-frayed  note       " in check_list([record("rope-frayed", SENSE, "note", "note")], "quay", None)
