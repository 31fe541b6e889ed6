"""Levels of detail that save next to nothing."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from tidegate.model.check import Check, Limit, Scope
from tidegate.model.facts import Facts
from tidegate.model.finding import Finding, Place
from tidegate.model.wording import count, number, rounded


def run(facts: Facts, limits: Mapping[str, Any], scope: Scope) -> Iterator[Finding]:
    for level in facts.levels:
        if not scope.takes(role=level.role):
            continue
        if level.triangles > limits["share"] * level.triangles_above:
            yield _whole(level, limits["share"])
        elif level.heavier:
            yield _of_meshes(level)


def _whole(level: Any, share: float) -> Finding:
    return Finding(
        check="level-of-detail-too-heavy",
        level="",
        message=(
            f"{level.role} has {level.triangles:,} triangles, {number(100 * level.triangles / level.triangles_above, 3)} % "
            f"of the {level.triangles_above:,} of {level.above}"
        ),
        place=Place(file=level.file, role=level.role),
        measured=rounded(level.triangles / level.triangles_above),
        wanted=share,
        unit="share",
        help=f"thin {level.role} out to {int(share * level.triangles_above):,} triangles, or leave it away",
    )


def _of_meshes(level: Any) -> Finding:
    """Single meshes that grew while the level as a whole got lighter."""
    name, own, above = max(level.heavier, key=lambda row: (row[1] / row[2], row[0]))
    others = f", and so are {count(len(level.heavier) - 1, 'mesh', 'meshes')} more" if len(level.heavier) > 1 else ""
    return Finding(
        check="level-of-detail-too-heavy",
        level="",
        message=f"mesh `{name}` of {level.role} is heavier than that of {level.above}: {own:,} triangles over {above:,}{others}",
        place=Place(file=level.file, role=level.role, mesh=name),
        measured=rounded(own / above),
        wanted=1.0,
        unit="share",
        help="look whether the meshes of the two levels were swapped; else thin it out",
    )


CHECK = Check(
    name="level-of-detail-too-heavy",
    group="levels of detail and collision",
    stage=45,
    needs=frozenset({"files", "meshes", "levels"}),
    looks_at="triangles of each level of detail, and of each of its meshes, over those of the level before it",
    why="a level that saves little is memory and a switch for nothing; one that grows was numbered wrongly",
    put_right="thin the level out, or number the levels from fine to coarse",
    blind_spots="how much of the shape was lost for the triangles saved",
    limits=(
        Limit(
            "share",
            "number",
            0.75,
            "share",
            "of the level before that a level may have; common practice, no source",
            low=0,
        ),
    ),
    scope=frozenset({"role"}),
    run=run,
)
