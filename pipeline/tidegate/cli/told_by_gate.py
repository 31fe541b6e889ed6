"""What a report may say besides the checks: findings of the gate itself, which no rule sets a level or a limit for."""

from __future__ import annotations

import textwrap
from dataclasses import asdict, dataclass


@dataclass(frozen=True, slots=True)
class ToldByGate:
    """name, level: as in a report. when: in which case it is told. put_right: what whoever reads it does."""

    name: str
    level: str
    when: str
    put_right: str


TOLD_BY_GATE = (
    ToldByGate(
        "no-rule-set",
        "error",
        "no rule set fits the prop: neither the order list, nor the category in its name, nor the gate names one",
        "give the prop a category that the gate knows, have it ordered with a rule set, or set one for the gate",
    ),
    ToldByGate(
        "check-failed",
        "error",
        "a check broke while it looked at this prop, so the prop is unjudged",
        "nothing at the prop: pass the report on to whoever keeps tidegate",
    ),
    ToldByGate(
        "name-taken",
        "error",
        "another owner delivers under this name, or two names differ in nothing but signs that a folder name does not keep",
        "choose another name, or have its owner deliver it",
    ),
    ToldByGate(
        "name-differs-in-case",
        "error",
        "a name that is there differs only in upper and lower case or accents, which many disks take for the same",
        "name it as the other one is named, or choose another name",
    ),
    ToldByGate(
        "newer-delivered",
        "error",
        "a version that was taken in later has been delivered already, so these files are older",
        "nothing if the newer version holds the change; else drop mesh and maps together again",
    ),
    ToldByGate(
        "version-not-raised",
        "error",
        "the content changed, and the version in the file names is not above that of the version delivered before",
        "raise the version in the file names",
    ),
    ToldByGate(
        "layout-changed-maps-not",
        "warning",
        "islands lie elsewhere than in the version delivered before, and not one map was saved anew",
        "save the maps again over the new layout, or say that the old paint still fits",
    ),
    ToldByGate(
        "maps-changed-layout-not",
        "note",
        "the maps were painted anew on the layout of the version delivered before",
        "nothing; it is told so that a repaint can be seen",
    ),
    ToldByGate(
        "renamed",
        "warning",
        "the version delivered before has a name of other signs that is written as this one is, and may be another prop",
        "nothing if it is the same prop; else give it a name of other words",
    ),
    ToldByGate(
        "re-dropped",
        "note",
        "the drop completes a prop that was returned: which files are mended, new or gone since",
        "nothing; look whether it lists what you meant to change",
    ),
    ToldByGate(
        "stands-alone",
        "note",
        "a file came without its prop and was judged alone: a return or version was near and was not taken, and why",
        "drop mesh and maps together if they belong together",
    ),
    ToldByGate(
        "left-in-inbox",
        "note",
        "a link, pipe or device lies in the drop; it stays in the inbox and was not opened",
        "put the file itself into the drop in its place, or remove it",
    ),
)


def told_by_gate(name: str) -> ToldByGate | None:
    return next((one for one in TOLD_BY_GATE if one.name == name), None)


def record(one: ToldByGate) -> dict[str, str]:
    """For a program; it has no limits and no `in_force`, since no rule speaks of it."""
    return {("check" if key == "name" else key): value for key, value in asdict(one).items()}


def page(one: ToldByGate) -> str:
    lines = [one.name, "=" * len(one.name)]
    of_the_gate = f"{one.level}; the gate tells it of itself, and no rule changes that"
    for title, text in (("told when", one.when), ("put right", one.put_right), ("level", of_the_gate)):
        lines += ["", f"{title}:", *textwrap.wrap(text, 76, initial_indent="  ", subsequent_indent="  ")]
    return "\n".join(lines)


def listed() -> str:
    """A sentence for the end of the list of checks."""
    names = ", ".join(f"`{one.name}`" for one in TOLD_BY_GATE)
    return textwrap.fill(f"Reports may also tell, whatever the rules say: {names}", 80, break_on_hyphens=False)
