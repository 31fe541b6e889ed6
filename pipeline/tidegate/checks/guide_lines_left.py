"""Lines of the guide sheet that were saved with the map."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

import numpy as np

from tidegate.model.check import Check, Limit, Scope
from tidegate.model.facts import Facts
from tidegate.model.finding import Finding, Shown
from tidegate.model.painted_rows import PAINT_SCOPE, painted_maps, painted_place
from tidegate.model.wording import number, rounded


def run(facts: Facts, limits: Mapping[str, Any], scope: Scope) -> Iterator[Finding]:
    for painted, taken in painted_maps(facts, scope):
        if painted.slot not in limits["slots"]:
            continue
        inner, border = (_seen(trace, limits) for trace in (painted.inner_trace, painted.border_trace))
        if inner is False or border is False or not (inner or border):
            continue  # a guide shows all its lines
        shown = painted.inner_trace if inner else painted.border_trace
        where = "the edges of its layout" if inner else "the borders of its islands"
        yield Finding(
            check="guide-lines-left",
            level="",
            message=f"{painted.map} shows thin {'dark' if shown.darker else 'light'} lines along "
            f"{number(100 * shown.on, 3)} % of {where}",
            place=painted_place(facts, painted, np.flatnonzero(taken)),
            shown=Shown(over="wire"),
            measured=rounded(shown.on, 3),
            wanted=limits["share"],
            unit="share",
            help="hide the guide layer and save the map again",
            certain=bool(inner),  # painted outlines follow borders by right, but hardly edges within a surface
        )


def _seen(trace: Any, limits: Mapping[str, Any]) -> bool | None:
    """Whether lines of the guide run there; None where too little of the wire is long enough to say."""
    if trace is None or trace.points < limits["least_length"]:
        return None
    return bool(trace.on > limits["share"] and trace.on - trace.aside >= limits["stands_out"])


CHECK = Check(
    name="guide-lines-left",
    stage=81,
    group="what the maps show",
    needs=frozenset({"files", "meshes", "headers", "islands", "pixels", "painted"}),
    looks_at="thin lines in a map, all darker or all lighter than what lies beside them, along the layout's own edges: those "
    "between faces that hardly bend, and the borders of islands; beside the same lines moved some texels",
    why="the guide that helped to paint is seen on the finished prop",
    put_right="hide the guide layer before the map is saved",
    blind_spots="lines that paint covers; lines in colors as bright as the paint; where a layout has no edges inside its islands "
    "it cannot be told from painted outlines",
    limits=(
        Limit(
            "share",
            "number",
            0.5,
            "share",
            "of the wire along which lines may run; common practice, no source",
            low=0,
            high=1,
        ),
        Limit(
            "stands_out",
            "number",
            0.4,
            "share",
            "by which it has to be more than on the same wire moved aside; common practice, no source",
            low=0,
            high=1,
        ),
        Limit(
            "least_length",
            "integer",
            200,
            "texels",
            "of wire, below which nothing is said; common practice, no source",
            low=1,
        ),
        Limit(
            "slots",
            "texts",
            ["base_color", "emission", "metalness", "roughness"],
            "",
            "slots whose maps are looked at; common practice, no source",
        ),
    ),
    level="warning",
    scope=PAINT_SCOPE,
    run=run,
)
