"""Faces with a surface in the model and none on the map."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import replace
from typing import Any

import numpy as np

from tidegate.model.check import Check, Limit, Scope
from tidegate.model.facts import Facts, Picture
from tidegate.model.finding import Finding
from tidegate.model.selection import ISLAND_SCOPE, box_around, island_place, islands_in, picture_name
from tidegate.model.wording import count, number, numbered, rounded

ALL = 0.99  # share of the surface from which on nothing was laid out at all; common practice, no source


def run(facts: Facts, limits: Mapping[str, Any], scope: Scope) -> Iterator[Finding]:
    columns = facts.islands
    for picture, rows in islands_in(facts, scope):
        assert columns is not None and facts.unfolding is not None
        if picture.bare:
            continue
        if picture.palette and limits["allow_palette"]:
            yield _palette(facts, picture, rows)
            continue
        flat = facts.unfolding.flat
        whole = float(columns.world_area[rows].sum())
        share = round(float(flat.surface[rows].sum()) / whole, 6) if whole > 0 else 0.0
        if share <= limits["share"]:
            continue
        bad = rows[flat.triangles[rows] > 0]
        plain = picture.assumed and not picture.files and share >= 1.0
        # An export that loses a layout leaves it on one point; colors are picked from several, whatever other maps there are.
        points = share >= ALL and len(set(map(tuple, np.round(columns.bounds[bad, :2], 4).tolist()))) > 1
        yield Finding(
            check="flat-uv-triangles",
            level="note" if plain else "warning" if points or share <= limits["mild_share"] else "",
            message=(
                f"{count(int(flat.triangles[bad].sum()), 'triangle')} without UV area in {count(len(bad), 'island')} of "
                f"{picture_name(picture)}: {numbered((bad + 1).tolist())}; {number(share * 100, 3)} % of the surface"
            ),
            place=replace(island_place(facts, picture, bad), uv_box=box_around(flat.box[bad])),
            measured=rounded(share),
            wanted=limits["share"],
            unit="share",
            help=(
                "nothing to do where the material stays without a map; otherwise lay the faces out"
                if plain
                else "nothing to do where these are points of a palette; otherwise the layout was lost and has to be made again"
                if points
                else "lay these faces out: they show one row or one point of the map, drawn out over their whole surface"
            ),
        )


def _palette(facts: Facts, picture: Picture, rows: Any) -> Finding:
    columns = facts.islands
    assert columns is not None
    points = int((columns.winding[rows] == 0).sum())
    what = (
        f"all {count(len(rows), 'island')} on {picture_name(picture)} have no UV area"
        if points == len(rows)
        else f"{count(len(rows), 'island')} on {picture_name(picture)} lie on points or narrow strips of it"
    )
    return Finding(
        check="flat-uv-triangles",
        level="note",
        message=f"{what}: colored from a palette, so density, stretch, overlap, room and upright are not judged",
        place=island_place(facts, picture, rows),
        measured=rounded(float(columns.uv_area[rows].sum())),
        unit="tiles",
        help="nothing to do for a palette; if this map is painted, its layout was lost and has to be made again",
    )


CHECK = Check(
    name="flat-uv-triangles",
    group="UV layout",
    stage=60,
    needs=frozenset({"files", "meshes", "headers", "islands", "unfolding"}),
    looks_at="the share of a map's surface on triangles whose corners lie on one line or point of the tile",
    why="what is painted there is drawn out into stripes or one color, and density and upright mean nothing",
    put_right="select the faces in the box and lay them out with some area",
    blind_spots=(
        "a palette is told from a lost layout only by how it looks: a color map alone, all islands in less than a tenth of "
        "the tile, and a tenth of the triangles or a quarter of the surface without UV area; beside a normal map points are "
        "told as flat, as a warning where they are several and nothing else was laid out"
    ),
    limits=(
        Limit("share", "number", 0.0, "share", "of the map's surface that may lie on such triangles", low=0, high=1),
        Limit(
            "mild_share",
            "number",
            0.05,
            "share",
            "of the surface up to which it is a warning at most; common practice, no source",
            low=0,
            high=1,
        ),
        Limit("allow_palette", "boolean", True, "", "a prop colored from points of a palette is named, as a note"),
    ),
    level="warning",
    scope=ISLAND_SCOPE,
    run=run,
)
