"""Letters that stand for findings in pictures and reports: A .. Z, AA .. AZ, BA ..."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

from .finding import Finding


def letters(number: int) -> str:
    """The letters of finding `number`, 0 first."""
    text = ""
    number += 1
    while number:
        number, digit = divmod(number - 1, 26)
        text = chr(ord("A") + digit) + text
    return text


def lettered(findings: Iterable[Finding]) -> tuple[Finding, ...]:
    """The findings with their letters, in their order. Findings added later keep none, so no letter ever moves."""
    return tuple(replace(finding, letter=letters(number)) for number, finding in enumerate(findings))
