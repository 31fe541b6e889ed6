"""More triangles than ordered or allowed."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from tidegate.model.check import Check, Limit, Scope
from tidegate.model.facts import Facts
from tidegate.model.finding import Finding, Place
from tidegate.model.selection import parts_in
from tidegate.model.wording import number


def run(facts: Facts, limits: Mapping[str, Any], scope: Scope) -> Iterator[Finding]:
    totals: dict[str, int] = {}
    for _, part in parts_in(facts, scope, collision=True):
        totals[part.role] = totals.get(part.role, 0) + part.triangles
    ordered = dict(facts.order.triangles) if facts.order else {}
    for role, total in sorted(totals.items()):
        most = ordered.get(role, limits["most"])
        if most is None or total <= most:
            continue
        source = "ordered" if role in ordered else "allowed"
        yield Finding(
            check="triangles-over-budget",
            level="",
            message=f"{role} has {total:,} triangles, {source} are {most:,}",
            place=Place(role=role),
            measured=total,
            wanted=most,
            unit="triangles",
            help=f"take out {total - most:,} triangles ({number(100 * (total - most) / total, 3)} %) where they shape nothing",
        )


CHECK = Check(
    name="triangles-over-budget",
    group="mesh",
    stage=40,
    needs=frozenset({"files", "meshes"}),
    looks_at="triangles of each mesh role, as drawn, against the order list first and the rule's limit otherwise",
    why="every triangle is paid for in each frame the prop is seen",
    put_right="thin out flat and hidden parts",
    blind_spots="where the triangles would be better spent",
    limits=(
        Limit("most", "integer", None, "triangles", "triangles of a role at most, where the order says none", low=1),
    ),
    scope=frozenset({"role", "material", "mesh", "node"}),
    run=run,
)
