"""Detail that is sharper in one place of the prop than in another."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

import numpy as np

from tidegate.model.check import Check, Limit, Scope
from tidegate.model.facts import Facts, Picture
from tidegate.model.finding import Finding, Place, Shown
from tidegate.model.selection import ISLAND_SCOPE, island_place, painted_in, picture_name
from tidegate.model.wording import count, number, numbered, rounded


def run(facts: Facts, limits: Mapping[str, Any], scope: Scope) -> Iterator[Finding]:
    shown = [(picture, rows) for picture, rows in painted_in(facts, scope) if picture.uv_layer == 0]
    for role in sorted({picture.role for picture, _ in shown}):
        mine = [(picture, rows) for picture, rows in shown if picture.role == role]
        if limits["prop"] is not None and len(mine) > 1:
            yield from _spread(facts, mine, limits["prop"], f"the {role}", "")
        if limits["material"] is not None:
            yield from _by_material(facts, mine, limits["material"])
    if limits["inside"] is not None:
        for picture, rows in shown:
            yield from _inside(facts, picture, rows, limits["inside"])


def _by_material(facts: Facts, shown: list[tuple[Picture, Any]], limit: float) -> Iterator[Finding]:
    assert facts.islands is not None
    worn = sorted({part.material for part in facts.parts})
    number_of = np.array([worn.index(part.material) for part in facts.parts], dtype=np.int64)
    for index, material in enumerate(worn):
        split = [(picture, rows[number_of[facts.islands.part[rows]] == index]) for picture, rows in shown]
        mine = [(picture, rows) for picture, rows in split if len(rows)]
        if mine:
            yield from _spread(facts, mine, limit, f"material `{material}`" if material else "no material", material)


def _spread(
    facts: Facts, shown: list[tuple[Picture, Any]], limit: float, where: str, material: str
) -> Iterator[Finding]:
    """Densities that 5 % and 95 % of the surface do not exceed, over the islands of several pictures."""
    columns = facts.islands
    assert columns is not None
    rows = np.concatenate([rows for _, rows in shown])
    rows = rows[np.isfinite(columns.density[rows])]
    if len(rows) < 2:
        return
    order = rows[np.lexsort((rows, columns.density[rows]))]
    run = np.cumsum(columns.world_area[order])
    low = int(order[np.searchsorted(run, 0.05 * run[-1])])
    high = int(order[min(int(np.searchsorted(run, 0.95 * run[-1])), len(order) - 1)])
    ratio = float(columns.density[high] / columns.density[low])
    if ratio <= limit:
        return
    part = facts.parts[int(columns.part[low])]
    yield Finding(
        check="texel-density-uneven",
        level="",
        message=(
            f"densities of {where} spread {number(ratio, 3)} to 1 over nine tenths of the surface: island {low + 1} has "
            f"{number(float(columns.density[low]))} px/m, island {high + 1} has {number(float(columns.density[high]))} px/m"
        ),
        place=Place(
            file=part.file, role=part.role, material=material, uv_layer=0, islands=tuple(sorted((low + 1, high + 1)))
        ),
        measured=rounded(ratio),
        wanted=limit,
        unit="ratio",
        help="scale the islands to one density; where maps differ in size, their layouts have to make up for it",
        shown=Shown(heat="density_map"),
    )


def _inside(facts: Facts, picture: Picture, rows: Any, limit: float) -> Iterator[Finding]:
    assert facts.unfolding is not None
    low, high = (values[rows] for values in facts.unfolding.density_range(limit))
    with np.errstate(divide="ignore", invalid="ignore"):
        ratio = np.where(low > 0, high / low, np.nan)
    bad = np.isfinite(ratio) & (ratio > limit)
    if not bad.any():
        return
    worst = int(np.argmax(np.where(bad, ratio, -1.0)))
    yield Finding(
        check="texel-density-uneven",
        level="",
        message=(
            f"density changes over {number(limit)} to 1 inside {count(int(bad.sum()), 'island')} of "
            f"{picture_name(picture)}: {numbered((rows[bad] + 1).tolist())}; island {rows[worst] + 1} from "
            f"{number(float(low[worst]))} to {number(float(high[worst]))} px/m{_towards(facts, int(rows[worst]))}"
        ),
        place=island_place(facts, picture, rows[bad]),
        measured=rounded(float(ratio[worst])),
        wanted=limit,
        unit="ratio",
        help="cut the island or relax it evenly; the density map shows where it is dense",
        shown=Shown(heat="density_map"),
    )


def _towards(facts: Facts, row: int) -> str:
    """Which way an island grows denser, where one direction stands out."""
    assert facts.unfolding is not None
    across, up = facts.unfolding.density_slope[row]
    if not np.isfinite(across) or max(abs(across), abs(up)) < 0.1:
        return ""
    if abs(across) > 2 * abs(up):
        return ", denser to the right" if across > 0 else ", denser to the left"
    if abs(up) > 2 * abs(across):
        return ", denser upwards" if up > 0 else ", denser downwards"
    return ""


CHECK = Check(
    name="texel-density-uneven",
    group="UV layout",
    stage=62,
    needs=frozenset({"files", "meshes", "headers", "islands", "unfolding"}),
    looks_at=(
        "the spread of texel density over the whole prop, over each material, and inside each island, between what 5 % and "
        "95 % of the surface do not exceed"
    ),
    why="a sharp handle on a blurred chest is seen at once, and so is grain that grows coarser along one board",
    put_right="scale whole islands to one density; relax or cut an island that is dense at one end",
    blind_spots="faces that are seen close are sometimes given more texels on purpose; the twentieth of the surface does that",
    limits=(
        Limit("prop", "number", None, "ratio", "over all maps of the prop at most; common practice, no source", low=1),
        Limit("material", "number", None, "ratio", "over one material at most; common practice, no source", low=1),
        Limit("inside", "number", None, "ratio", "inside one island at most; common practice, no source", low=1),
    ),
    level="note",
    scope=ISLAND_SCOPE,
    run=run,
)
