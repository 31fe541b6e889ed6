"""Letters of findings."""

from __future__ import annotations

import pytest

from tidegate.model.finding import Finding
from tidegate.model.letters import lettered, letters


@pytest.mark.parametrize(
    ("number", "text"), [(0, "A"), (25, "Z"), (26, "AA"), (51, "AZ"), (52, "BA"), (701, "ZZ"), (702, "AAA")]
)
def test_known_letters(number: int, text: str) -> None:
    assert letters(number) == text


def test_no_two_findings_share_a_letter_and_all_else_stays() -> None:
    findings = [Finding("a-check", "error", f"message {k}") for k in range(900)]
    given = lettered(findings)
    assert len({finding.letter for finding in given}) == 900
    assert [finding.message for finding in given] == [finding.message for finding in findings]
    assert not any(finding.letter for finding in findings)
