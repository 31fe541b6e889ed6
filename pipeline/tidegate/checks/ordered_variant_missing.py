"""Texture variants that were ordered and are not there."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from tidegate.model.check import Check, Limit, Scope
from tidegate.model.facts import Facts
from tidegate.model.finding import Finding, Place
from tidegate.model.nearest import did_you_mean
from tidegate.model.wording import count, one_of


def run(facts: Facts, limits: Mapping[str, Any], scope: Scope) -> Iterator[Finding]:
    if facts.order is None or not facts.order.variants:
        return
    present = [variant for variant in facts.prop.variants if variant]
    file = facts.prop.files[0].path if facts.prop.files else ""
    for variant in facts.order.variants:
        if variant in present or not scope.takes(variant=variant):
            continue
        there = one_of([f"`{name}`" for name in present], "and") if present else "no variant at all"
        yield Finding(
            check="ordered-variant-missing",
            level="",
            message=f"variant `{variant}` was ordered; there is {there}",
            place=Place(file=file, variant=variant),
            measured=count(len(present), "variant"),
            wanted=variant,
            help=did_you_mean(variant, present)
            or f"save the maps of `{variant}` with that word between the prop's name and the ending of the slot",
        )
    if limits["others"]:
        return
    for variant in present:
        if variant in facts.order.variants or not scope.takes(variant=variant):
            continue
        yield Finding(
            check="ordered-variant-missing",
            level="",
            message=f"variant `{variant}` is there and was not ordered",
            place=Place(file=file, variant=variant),
            measured=variant,
            wanted=one_of(list(facts.order.variants), "and"),
            help=did_you_mean(variant, facts.order.variants) or "leave its maps out, or have it ordered",
        )


CHECK = Check(
    name="ordered-variant-missing",
    group="order, size and axes",
    stage=23,
    needs=frozenset({"files", "meshes", "headers"}),
    looks_at="the texture variants that the order list names against those that the prop's maps have",
    why="a missing coat of paint is noticed when the scene is dressed, weeks after the prop was paid for",
    put_right="paint the variant, save its maps under its name, and drop them with the mesh",
    blind_spots="a variant with one map counts as there; whether each of its maps is, another check tells",
    limits=(Limit("others", "boolean", True, "", "whether variants that were not ordered may lie beside them"),),
    scope=frozenset({"variant"}),
    run=run,
)
