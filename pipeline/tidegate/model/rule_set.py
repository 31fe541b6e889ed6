"""A rule set as judged by: every rule with its effective limits and where each was set."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

from .check import Scope


@dataclass(frozen=True, slots=True)
class Rule:
    """A line of a rule set: check, level, limits, and the part of the prop it is for.

    limits: every limit of the check, defaults filled in. set_by: limit name -> "file:line" or "default of the check".
    level: "error", "warning", "note"; a rule at "off" is dropped when the set is read.
    source: "file:line" of the rule.
    """

    check: str
    level: str
    limits: dict[str, Any] = field(default_factory=dict)
    scope: Scope = field(default_factory=Scope)
    set_by: dict[str, str] = field(default_factory=dict)
    source: str = ""


@dataclass(frozen=True, slots=True)
class RuleSet:
    """name: file stem. sha256: of the effective rules in canonical JSON, so two spellings of one set agree.

    settings: set-wide values: `assumed_map_px`, `driving_slots`, with where they were set.
    """

    name: str
    title: str
    rules: tuple[Rule, ...]
    sha256: str
    settings: dict[str, Any] = field(default_factory=dict)
    settings_set_by: dict[str, str] = field(default_factory=dict)
    files: tuple[str, ...] = ()
