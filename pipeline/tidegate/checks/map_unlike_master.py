"""A flat map that is not what its master shows."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from tidegate.model.check import Check, Limit, Scope
from tidegate.model.facts import Facts
from tidegate.model.finding import Finding, Shown
from tidegate.model.map_uses import map_place, takes_map
from tidegate.model.selection import MAP_SCOPE
from tidegate.model.wording import count, number, rounded

MARGIN = 300  # seconds between two files that were written at different times; common practice, no source


def run(facts: Facts, limits: Mapping[str, Any], scope: Scope) -> Iterator[Finding]:
    by_path = {texture.path: texture for texture in facts.prop.maps}
    for master in facts.masters:
        texture, found = by_path.get(master.map), master.comparison
        if texture is None or found is None or not takes_map(facts, texture, scope):
            continue
        if not found.comparable:
            yield Finding(
                check="map-unlike-master",
                level="",
                message=f"{texture.path} has another ratio of width to height than its master {master.path}",
                place=map_place(texture),
                measured="another ratio",
                wanted="the master's ratio",
                help="export the map again from this master, or hand in the master it was made from",
            )
        elif found.differing > limits["share"] and master.lines_in != "master":
            yield Finding(
                check="map-unlike-master",
                level="",
                message=(
                    f"{texture.path} differs from what its master {master.path} shows in "
                    f"{number(100 * found.differing, 3)} % of its texels, by up to {count(found.largest, 'code')} of 255"
                    f"{_newer(facts, master.path, texture.path)}"
                ),
                place=map_place(texture, box=found.boxes[0] if found.boxes else None),
                shown=Shown(master=master.path),
                measured=rounded(found.differing, 4),
                wanted=limits["share"],
                unit="share",
                help="export the map again from the master; if the map is right, save the master it was made from",
            )


def _newer(facts: Facts, master: str, texture: str) -> str:
    """Which of the two was written later, where the times of both are known and clearly apart; only told, it decides nothing.

    An archive keeps no times here: its files are written one after the other when it is unpacked, hence the margin.
    """
    written = {file.path: file.changed for file in facts.prop.files}
    if not written.get(master) or not written.get(texture):
        return ""
    later = (written[master] - written[texture]) // 1_000_000_000
    if abs(later) < MARGIN:
        return ""
    return f"; the {'master' if later > 0 else 'map'} is newer by {_time(abs(later))}"


def _time(seconds: int) -> str:
    """The two largest units: `2 h 10 min`."""
    minutes = seconds // 60
    days, hours, minutes = minutes // 1440, minutes // 60 % 24, minutes % 60
    shown = [f"{amount} {unit}" for amount, unit in ((days, "d"), (hours, "h"), (minutes, "min")) if amount]
    return " ".join(shown[:2])


CHECK = Check(
    name="map-unlike-master",
    group="what the maps show",
    stage=81,
    needs=frozenset({"files", "headers", "pixels", "masters"}),
    looks_at="the master's flattened picture against the flat map, also where one is a smaller copy of the other",
    why="the master was changed and the map not saved again, so the next export changes what was approved",
    put_right="export the map again and hand in both",
    blind_spots="which of the two is right: the time of writing is told where it is known, archives and copies lose it; without "
    "a flattened picture nothing is compared",
    limits=(
        Limit("share", "number", 0.001, "share", "texels that may differ; common practice, no source", low=0, high=1),
    ),
    level="warning",
    scope=MAP_SCOPE,
    run=run,
)
