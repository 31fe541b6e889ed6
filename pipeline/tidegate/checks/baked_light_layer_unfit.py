"""A UV layer for baked light on which places share texels, lie outside or stand too close."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

import numpy as np

from tidegate.model.check import Check, Limit, Scope
from tidegate.model.facts import Facts, Picture
from tidegate.model.finding import Finding, Place, Shown
from tidegate.model.selection import ISLAND_SCOPE, island_place, islands_in, paintable, parts_in, picture_name
from tidegate.model.wording import count, number, numbered, rounded

NAME = "baked-light-layer-unfit"


def run(facts: Facts, limits: Mapping[str, Any], scope: Scope) -> Iterator[Finding]:
    layer = limits["layer"]
    if limits["required"]:
        yield from _missing(facts, layer, scope)
    covered = {id(c.picture): c for c in facts.coverage}
    spaced = {id(s.picture): s for s in facts.spacing}
    for picture, rows in islands_in(facts, scope):
        if picture.uv_layer == layer and picture.role == "model":
            yield from _outside(facts, picture, rows)
            yield from _shared(facts, picture, rows, covered[id(picture)], limits["allowed_texels"])
            yield from _close(facts, picture, rows, spaced[id(picture)], limits)


def _missing(facts: Facts, layer: int, scope: Scope) -> Iterator[Finding]:
    for _, part in parts_in(facts, scope):
        if part.role == "model" and layer not in part.uv_layers:
            yield Finding(
                check=NAME,
                level="",
                message=f"mesh `{part.mesh or part.node}` has no UV layer {layer} for baked light",
                place=Place(
                    file=part.file,
                    role=part.role,
                    node=part.node,
                    mesh=part.mesh,
                    material=part.material,
                    uv_layer=layer,
                ),
                measured=len(part.uv_layers),
                wanted=layer + 1,
                unit="UV layers",
                help="add a second layout in which no two faces share a place",
            )


def _outside(facts: Facts, picture: Picture, rows: Any) -> Iterator[Finding]:
    columns = facts.islands
    assert columns is not None
    for bad, says, help in (
        (
            ~columns.inside[rows] | (columns.corner[rows] != 0).any(axis=1),
            "outside the tile",
            "pack the whole layer into the first tile: light is baked into one map",
        ),
        (~paintable(columns, picture, rows), "without room for light", "give these faces some area on the layer"),
    ):
        if bad.any():
            yield Finding(
                check=NAME,
                level="",
                message=(
                    f"{count(int(bad.sum()), 'island')} {says} on {picture_name(picture)}: "
                    f"{numbered((rows[bad] + 1).tolist())}"
                ),
                place=island_place(facts, picture, rows[bad]),
                measured=int(bad.sum()),
                wanted=0,
                unit="islands",
                help=help,
            )


def _shared(facts: Facts, picture: Picture, rows: Any, cover: Any, allowed: int) -> Iterator[Finding]:
    groups = [g for g in cover.overlaps if g.texels > allowed and np.isin(g.islands, rows).any()]
    if groups:
        islands = np.array(sorted({row for group in groups for row in group.islands}), dtype=np.int64)
        texels = sum(group.texels for group in groups)
        yield Finding(
            check=NAME,
            level="",
            message=(
                f"{count(len(islands), 'island')} share {count(texels, 'texel')} on {picture_name(picture)}: "
                f"{numbered((islands + 1).tolist())}"
            ),
            place=island_place(facts, picture, islands),
            measured=texels,
            wanted=allowed,
            unit="texels",
            shown=Shown(shared=True),
            help="give every face its own place, stacks too: light falls differently on each of them",
        )


def _close(facts: Facts, picture: Picture, rows: Any, gaps: Any, limits: Mapping[str, Any]) -> Iterator[Finding]:
    scale = limits["map_px"] / max(picture.width, picture.height)
    between, border = limits["between_texels"], limits["border_texels"]
    close = [
        g
        for g in gaps.pairs
        if g.texels * scale < between and not g.over_border and np.isin((g.first, g.second), rows).any()
    ]
    if close:
        nearest = min(close, key=lambda g: (g.texels, g.first, g.second))
        islands = sorted({i + 1 for g in close for i in (g.first, g.second)})
        yield Finding(
            check=NAME,
            level="",
            message=(
                f"{count(len(close), 'pair')} of islands closer than {number(between)} texels of a light map of "
                f"{limits['map_px']} on {picture_name(picture)}: {numbered(islands)}; closest {nearest.first + 1} and "
                f"{nearest.second + 1} at {number(nearest.texels * scale, 3)} texels"
            ),
            place=island_place(facts, picture, np.array([nearest.first, nearest.second])),
            measured=rounded(nearest.texels * scale),
            wanted=between,
            unit="texels",
            help="pack the layer for the size of the light map, with that much room",
        )
    near = rows[np.nan_to_num(gaps.border[rows], nan=np.inf) * scale < border]
    near = near[facts.islands.inside[near]] if facts.islands is not None else near
    if len(near):
        least = float(gaps.border[near].min()) * scale
        yield Finding(
            check=NAME,
            level="",
            message=(
                f"{count(len(near), 'island')} closer than {number(border)} texels of a light map of {limits['map_px']} to "
                f"the border on {picture_name(picture)}: {numbered((near + 1).tolist())}; nearest {number(least, 3)} texels"
            ),
            place=island_place(facts, picture, near),
            measured=rounded(least),
            wanted=border,
            unit="texels",
            help="draw these islands in from the border",
        )


CHECK = Check(
    name=NAME,
    group="UV layout",
    stage=63,
    needs=frozenset({"files", "meshes", "headers", "islands", "coverage", "spacing", "bare"}),
    looks_at="the UV layer that light is baked into: there, unique, inside the tile, and spaced for the light map's size",
    why="places that share a texel get the same light, and islands too close bleed dark edges into each other",
    put_right="lay out a second UV layer without stacks, inside the tile, packed with room for a small map",
    blind_spots="whether the density suits the light; a layer that is never baked has no fault",
    limits=(
        Limit("layer", "integer", 1, "UV layer", "number of the UV layer that light is baked into", low=0, high=7),
        Limit("required", "boolean", True, "", "every mesh of the model needs the layer"),
        Limit(
            "map_px", "integer", 512, "texels", "side of the light map; common practice, no source", low=1, high=65536
        ),
        Limit(
            "between_texels", "number", 4.0, "texels", "gap between islands at least; common practice, no source", low=0
        ),
        Limit(
            "border_texels", "number", 2.0, "texels", "gap to the border at least; common practice, no source", low=0
        ),
        Limit("allowed_texels", "integer", 0, "texels", "shared texels that are still let pass", low=0),
    ),
    level="warning",
    scope=ISLAND_SCOPE,
    run=run,
)
