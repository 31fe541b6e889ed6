"""The outcome of judging one prop."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from .facts import Facts
    from .finding import Finding
    from .rule_set import RuleSet

APPROVED, RETURNED, UNJUDGED = "approved", "returned", "unjudged"


@dataclass(frozen=True, slots=True, eq=False)
class Verdict:
    """verdict: approved, returned (a finding at error level) or unjudged (unreadable, or a check failed).

    findings stand in fix-first order, consequences right behind their cause. rule_set is None when no set fits.
    chosen_by: why this rule set judges the prop. pictures: (file name, bytes) drawn for the sidecar.
    """

    prop: str
    verdict: str
    findings: tuple[Finding, ...]
    facts: Facts
    rule_set: RuleSet | None
    chosen_by: str = ""
    pictures: tuple[tuple[str, bytes], ...] = ()
