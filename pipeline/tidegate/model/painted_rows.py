"""Which painted maps and islands a rule is for, and whether a map's ground can be judged at all."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import replace
from typing import TYPE_CHECKING, Any

from .finding import Place
from .map_uses import takes_map
from .selection import MAP_SCOPE, island_place, painted_in

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    from .check import Scope
    from .facts import Facts

PAINT_SCOPE = MAP_SCOPE | {"role", "mesh", "node", "uv_layer"}
EVEN_GROUND = 0.6  # share of the far texels that must show the ground; common practice, no source
NO_PAINT_SLOTS = ("base_color",)  # slots whose ground is hardly ever paint, as 0 is in data and level in normals
# Shares of the islands that differ from the ground where a map is only compared in the large: fewer lie on one plain swatch, more
# are painted well enough. Common practice, no source.
HARDLY_COVERED, WELL_COVERED = 0.05, 0.75
LESS = 0.9  # of the share far from the islands that the ground may have on them, else it is a color of the whole map
FADES = 0.5  # texels near the ground over those that show it, above which the paint fades into it


def painted_maps(facts: Facts, scope: Scope) -> Iterator[tuple[Any, NDArray[np.bool_]]]:
    """Every map measured against a layout that the scope takes, and which of its `rows` it takes: palettes and islands
    without room for paint are left out."""
    import numpy as np

    by_path = {texture.path: texture for texture in facts.prop.maps}
    wanted = {id(picture): rows for picture, rows in painted_in(facts, scope)}
    for painted in facts.painted:
        rows = wanted.get(id(facts.pictures[painted.picture]))
        if painted.reason or rows is None or not takes_map(facts, by_path[painted.map], scope):
            continue
        yield painted, np.isin(painted.rows, rows)


def own_ground(painted: Any) -> bool:
    """The map shows an even ground far from the islands, which is no color of their paint."""
    return ground_speaks(painted.ground, painted.spilled)


def ground_speaks(ground: Any, spilled: float) -> bool:
    """Whether a ground, None without one, can be held against the islands.

    Where much of what lies far from the islands is painted, the map is shared with other things or painted all over, and
    what shows there proves nothing.
    """
    return ground is not None and bool(ground.certain) and ground.share >= EVEN_GROUND and spilled <= 1 - EVEN_GROUND


def untold_share(painted: Any) -> float:
    """Share of the islands that show the color far from them where that may be bare places or a plain coat, which cannot be
    told; 0 where it is known, where paint may have any color, and where the color lies on the islands as it does elsewhere."""
    if painted.slot not in NO_PAINT_SLOTS:
        return 0.0
    ground, own = painted.ground, None if painted.fit is None else painted.fit.own
    if ground is not None:
        doubtful, shown, beyond = ground.beside > 0 and not ground.certain, ground.shown, ground.share
    elif own is not None:
        doubtful = HARDLY_COVERED <= own.covered <= WELL_COVERED
        shown, beyond = 1.0 - own.covered, 1.0 - own.spilled
    else:
        return 0.0
    return float(shown) if doubtful and beyond >= EVEN_GROUND and shown <= LESS * beyond else 0.0


def painted_place(facts: Facts, painted: Any, at: NDArray[np.int64], box: Iterable[int] | None = None) -> Place:
    """The place of some of a map's islands. at: indices into its `rows`. box: pixels of the map itself."""
    texture = next(one for one in facts.prop.maps if one.path == painted.map)
    place = island_place(facts, facts.pictures[painted.picture], painted.rows[at])
    pixels = None
    if box is not None:
        x0, y0, x1, y1 = (int(side) for side in box)
        pixels = (x0, y0, x1, y1)
    return replace(place, map=painted.map, slot=painted.slot, variant=texture.variant, pixel_box=pixels)
