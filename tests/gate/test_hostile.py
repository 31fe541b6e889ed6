"""A sample of the hostile drops; `python -m tests.gate.hostile` runs all of them."""

from __future__ import annotations

from pathlib import Path

from tests.gate.hostile import all_cases, run_cases

SLOW = ("hugepng", "hugecutpng", "bombpng", "bombtar", "bombzip", "obj13")


def test_there_are_enough_of_them_and_no_two_share_a_name() -> None:
    cases = all_cases()
    assert len(cases) >= 500
    assert len({case.name for case in cases}) == len({case.drop for case in cases}) == len(cases)


def test_each_ends_with_the_finding_or_reason_it_must_and_nothing_is_lost(tmp_path: Path) -> None:
    cases = [case for case in all_cases() if not case.name.endswith(SLOW) and not case.name.startswith(SLOW)]
    run = run_cases(cases[5::17], tmp_path)
    assert run.faults == []
