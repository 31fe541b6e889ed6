"""A few of the random props of `clean_props.py`: nothing is said of a right one, and each fault is named."""

from __future__ import annotations

import pytest

from tests.measure.clean_props import case, rules_of_paint, said, spoilt

RULES = rules_of_paint()


@pytest.mark.parametrize("seed", range(10))
def test_a_right_export_has_no_finding_of_paint(seed: int) -> None:
    assert [(one.check, one.message) for one in said(case(seed), RULES)] == []


@pytest.mark.parametrize("seed", [0, 3])
def test_each_fault_is_named(seed: int) -> None:
    """Holes, turned maps and small changes in a master are not always found; the run of the module counts how often."""
    sure = {"bleed-too-narrow", "broken-normal-map", "same-picture-twice", "looks-unsaved"}
    for what, check, made, master in spoilt(seed):
        if check in sure:
            assert check in {one.check for one in said(made, RULES, master)}, what
