"""One cause, one finding: which check's finding explains which others, and how those are drawn together."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from tidegate.judge.faces_cause import OF_FACES, follows, with_partial_cause
from tidegate.judge.told_of import ToldOf
from tidegate.model.facts import Facts
from tidegate.model.finding import LEVELS, Finding
from tidegate.model.wording import count

# cause -> consequences, judged in this order. A finding is a consequence only where both name the same mesh file,
# or the cause names none.
EXPLAINS: dict[str, tuple[str, ...]] = {
    "unlikely-size": ("texel-density-out-of-range", "texel-density-uneven", "size-off-order"),
    "up-axis-doubtful": ("size-off-order", "tilted-islands", "pivot-out-of-place"),
    **OF_FACES,
    "unreadable-file": ("missing-map", "missing-mesh", "stray-file"),
    "unreadable-map": ("missing-map", "map-size-out-of-range"),
    "uvs-missing": ("texel-density-out-of-range", "islands-outside-tile", "level-of-detail-repainted"),
    "missing-texture-file": ("missing-map",),
    "painted-for-another-layout": (
        "bleed-too-narrow",
        "unpainted-texels",
        "seam-visible",
        "lifeless-roughness",
        "unlikely-albedo",
        "half-metal",
    ),
    "grey-stored-as-color": ("wrong-pixel-format",),
    "unused-alpha": ("unwanted-alpha",),
    "color-in-data": ("wrong-pixel-format",),
    "same-picture-twice": ("color-in-data", "wrong-pixel-format", "broken-normal-map"),
    "broken-normal-map": ("bleed-too-narrow", "unpainted-texels"),
    "guide-lines-left": ("map-unlike-master",),
    "looks-unsaved": (
        "bleed-too-narrow",
        "unpainted-texels",
        "seam-visible",
        "painted-for-another-layout",
        "broken-normal-map",
        "lifeless-roughness",
        "unused-alpha",
        "unlikely-albedo",
        "half-metal",
    ),
}


# What a cause that is only suspected adds to the help of what would follow from it.
IF_SO = {"up-axis-doubtful": "if Z is up, turn the model first; else "}

# Raised to an error it would leave the prop unjudged, which its rule did not ask for.
KEEPS_ITS_LEVEL = ("unreadable-file",)


def under_causes(findings: Sequence[Finding], facts: Facts | None = None) -> list[Finding]:
    """Every consequence drawn together into one finding a check and cause, marked with `cause`.

    The level of a drawn-together finding is the worst of its members, and a cause takes the worst level of what follows
    from it, so no verdict grows milder by having a cause. facts: what the findings were told from; without them nothing
    follows from the faces of a mesh. What follows from a consequence follows from its cause.
    """
    told = ToldOf(facts)
    causes = [f for f in findings if f.check in EXPLAINS and f.certain and not f.cause]
    direct = [_cause_of(told, causes, findings, finding) for finding in findings]
    place = {id(finding): i for i, finding in enumerate(findings)}
    kept: list[Finding] = []
    taken: dict[tuple[str, str], list[Finding]] = {}
    worst_of: dict[int, str] = {}
    for finding, cause in zip(findings, direct, strict=True):
        if cause is None:
            continue
        while (further := direct[place[id(cause)]]) is not None:
            cause = further
        taken.setdefault((cause.check, finding.check), []).append(finding)
        worst_of[id(cause)] = min(worst_of.get(id(cause), cause.level), finding.level, key=LEVELS.index)
    for finding, cause in zip(findings, direct, strict=True):
        if cause is None:
            level = finding.level if finding.check in KEEPS_ITS_LEVEL else worst_of.get(id(finding), finding.level)
            kept.append(replace(finding, cause="", level=level, help=_help_of(told, causes, findings, finding)))
    for (cause_name, _), members in taken.items():
        worst = min(members, key=lambda f: LEVELS.index(f.level))
        if len(members) > 1:
            message = f"{worst.message}; and {count(len(members) - 1, 'finding')} more of the same kind"
            worst = replace(worst, message=message)
        if worst.cause != cause_name:  # a check that supposed this cause has already said what to do
            worst = replace(worst, help=f"mend {cause_name} first: this should go with it")
        kept.append(replace(worst, cause=cause_name))
    return kept


def _cause_of(told: ToldOf, causes: Sequence[Finding], findings: Sequence[Finding], finding: Finding) -> Finding | None:
    for cause in causes:
        if finding.check not in EXPLAINS[cause.check] or finding is cause:
            continue
        if follows(told, cause, finding) if cause.check in OF_FACES else _same_place(cause, finding):
            return cause
    return next((c for c in findings if _supposed(c, finding)), None)


def _help_of(told: ToldOf, causes: list[Finding], findings: Sequence[Finding], finding: Finding) -> str:
    """The help of a finding that no cause explains whole."""
    suspected = [
        f
        for f in findings
        if f.check in IF_SO and not f.certain and finding.check in EXPLAINS[f.check] and _same_place(f, finding)
    ]
    return "".join(IF_SO[f.check] for f in suspected[:1]) + with_partial_cause(told, causes, finding)


def _supposed(cause: Finding, other: Finding) -> bool:
    """Whether the cause is the one that the other finding's check supposed, and was told of all the other's islands."""
    named = cause.check == other.cause and cause.certain and not cause.cause
    a, b = cause.place, other.place
    return named and (a.map, a.uv_layer, a.role) == (b.map, b.uv_layer, b.role) and set(b.islands) <= set(a.islands)


def _same_place(cause: Finding, other: Finding) -> bool:
    a, b = cause.place, other.place
    if cause.check in ("unlikely-size", "uvs-missing"):
        of_one_role = cause.check == "unlikely-size" or not a.role or not b.role or a.role == b.role
        return of_one_role and (not a.file or not b.file or a.file == b.file)
    if cause.check == "missing-texture-file":
        return not b.slot or not a.slot or a.slot == b.slot
    if a.map and b.map:
        return b.map in (a.map, *cause.also_maps)
    return True
