"""Guide lines shown in the picture of a master."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from fnmatch import fnmatchcase
from typing import Any

from tidegate.model.check import Check, Limit, Scope
from tidegate.model.facts import Facts
from tidegate.model.finding import Finding, Place, Shown
from tidegate.model.map_uses import map_place, takes_map
from tidegate.model.selection import MAP_SCOPE


def run(facts: Facts, limits: Mapping[str, Any], scope: Scope) -> Iterator[Finding]:
    by_path = {texture.path: texture for texture in facts.prop.maps}
    for master in facts.masters:
        texture = by_path.get(master.map)
        if texture is not None and not takes_map(facts, texture, scope):
            continue
        found = master.comparison
        lines = master.lines_in == "master"
        layer = next(
            (one.name for one in master.layers if one.visible and one.opacity > 0 and _guide(one.name, limits)), ""
        )
        if not lines and not layer:
            continue
        says = "its flattened picture shows the lines of the layout" if lines else f"its layer `{layer}` is shown"
        box = found.boxes[0] if lines and found is not None and found.boxes else None
        yield Finding(
            check="guide-left-in-master",
            level="",
            message=f"{master.path} was saved with the guide visible: {says}",
            place=map_place(texture, box=box) if texture is not None else Place(map=master.path),
            shown=Shown(master=master.path),
            measured=layer or "lines of the layout",
            wanted="guide hidden",
            help="hide the guide layer and save master and map again",
        )


def _guide(name: str, limits: Mapping[str, Any]) -> bool:
    return any(fnmatchcase(name.lower(), pattern) for pattern in limits["layers"])


CHECK = Check(
    name="guide-left-in-master",
    group="what the maps show",
    stage=81,
    needs=frozenset({"files", "headers", "pixels", "masters"}),
    looks_at="differences between master and map that lie on the layout's lines, and shown layers that are named as guides",
    why="the next export from this master paints the lines into the map",
    put_right="hide the guide layer before saving",
    blind_spots="a guide that was painted into another layer, and one that is in the map as well",
    limits=(
        Limit(
            "layers",
            "texts",
            ["guide*", "* guide", "*_guide", "uv layout*", "wireframe*"],
            "",
            "patterns for names of guide layers, in lower case; common practice, no source",
        ),
    ),
    level="warning",
    scope=MAP_SCOPE,
    run=run,
)
