"""Scraps of mesh left over: pieces that are tiny beside the prop and hang on to nothing."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

import numpy as np

from tidegate.model.check import Check, Limit, Scope
from tidegate.model.facts import Facts
from tidegate.model.faulty import BODY_SCOPE, bodies_in, named, place_of
from tidegate.model.finding import Finding
from tidegate.model.wording import count, length, rounded


def run(facts: Facts, limits: Mapping[str, Any], scope: Scope) -> Iterator[Finding]:
    if facts.size is None or max(facts.size) <= 0.0:
        return
    smallest = limits["share"] * max(facts.size)
    for body in bodies_in(facts, scope):
        pieces = body.pieces
        if limits["most"] is not None and len(pieces) > limits["most"]:
            yield Finding(
                check="loose-pieces",
                level="",
                message=f"{named(body)} falls into {count(len(pieces), 'piece')}, allowed are {limits['most']:,}",
                place=place_of(body),
                measured=len(pieces),
                wanted=limits["most"],
                unit="pieces",
                help="join what belongs together, and delete what was left over",
            )
        scraps = np.flatnonzero((pieces.diagonal < smallest) & (pieces.triangles <= limits["triangles"]))
        if len(scraps) and len(scraps) < len(pieces):
            first = scraps[0]
            x, y, z = ((pieces.low[first] + pieces.high[first]) / 2.0).round(6).tolist()
            widest = float(pieces.diagonal[scraps].max())
            yield Finding(
                check="loose-pieces",
                level="",
                message=(
                    f"{named(body)}: {count(len(scraps), 'scrap')} of at most {count(limits['triangles'], 'triangle')} "
                    f"and {length(widest)}, apart from everything else"
                ),
                place=place_of(body, (x, y, z)),
                measured=rounded(widest),
                wanted=rounded(smallest),
                unit="m",
                help="delete them, or join them to what they belong to",
            )


CHECK = Check(
    name="loose-pieces",
    group="mesh",
    stage=43,
    needs=frozenset({"files", "meshes", "topology"}),
    looks_at="pieces of each mesh that share no position with the rest: how many, and which are few triangles and tiny",
    why="scraps left from cutting and copying are never seen until they catch a light or a shadow",
    put_right="delete the scraps before export",
    blind_spots="a scrap as large as a real part, and real parts as small as a scrap",
    limits=(
        Limit(
            "share",
            "number",
            0.005,
            "share",
            "of the prop's longest side below which a piece is tiny; common practice, no source",
            low=0,
        ),
        Limit("triangles", "integer", 2, "triangles", "a scrap has at most; common practice, no source", low=1),
        Limit("most", "integer", None, "pieces", "pieces that one mesh may fall into", low=1),
    ),
    scope=BODY_SCOPE,
    run=run,
)
