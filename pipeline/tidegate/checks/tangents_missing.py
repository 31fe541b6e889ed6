"""Meshes under a normal map that carry no tangents."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from tidegate.model.check import Check, Scope
from tidegate.model.facts import Facts
from tidegate.model.faulty import named, place_of
from tidegate.model.finding import Finding
from tidegate.model.selection import PART_SCOPE, parts_in


def run(facts: Facts, limits: Mapping[str, Any], scope: Scope) -> Iterator[Finding]:
    for index, part in parts_in(facts, scope):
        shading = facts.shading[index]
        if shading.tangents or shading.normal_layer is None or not shading.can_hold_tangents:
            continue
        yield Finding(
            check="tangents-missing",
            level="",
            message=f"{named(part)} wears a normal map and carries no tangents",
            place=place_of(part),
            measured="none",
            wanted="tangents",
            help="export with tangents, or make sure that baker and renderer compute them the same way",
        )


CHECK = Check(
    name="tangents-missing",
    group="normals and tangents",
    stage=46,
    needs=frozenset({"files", "meshes", "shading"}),
    looks_at="whether meshes whose material has a normal map carry tangents, in formats that can hold them",
    why="a normal map is read along the tangents; computed anew they may differ from those it was baked with",
    put_right="export with tangents, computed from the final UVs",
    blind_spots="a pipeline that computes them everywhere by one agreed method (glTF 2.0, 3.7.2.1 names one) needs none",
    scope=PART_SCOPE,
    run=run,
)
