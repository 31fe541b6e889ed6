"""Writes rules/README.md from the registry of checks and the shipped rule sets: python -m tests.make_rules_readme"""

from __future__ import annotations

from pathlib import Path

from tidegate import checks
from tidegate.load.rule_set import read_rule_set
from tidegate.report.checks_page import checks_page

PAGE = Path(__file__).resolve().parents[1] / "rules" / "README.md"
SETS = ("first_look", "handheld", "furniture", "building_part")


def page() -> str:
    return checks_page([checks.get(name) for name in checks.names()], [read_rule_set(name) for name in SETS])


if __name__ == "__main__":
    PAGE.write_text(page(), encoding="utf-8", newline="\n")
    print(f"wrote {PAGE}")
