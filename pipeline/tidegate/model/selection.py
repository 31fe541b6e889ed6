"""Which rows of the facts a rule is for: scopes applied to parts, pictures and islands."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING

from tidegate.model.check import Scope
from tidegate.model.facts import Facts, IslandColumns, PartFacts, Picture
from tidegate.model.finding import Place

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

ISLAND_SCOPE = frozenset({"role", "material", "mesh", "node", "uv_layer", "tile"})
PART_SCOPE = frozenset({"role", "material", "mesh", "node"})
MAP_SCOPE = frozenset({"slot", "material", "variant", "tile"})
COLLISION = "collision"
NARROWEST = 0.5  # texels: on an island narrower than that over its length nothing can be painted


def parts_in(facts: Facts, scope: Scope, *, collision: bool = False) -> Iterator[tuple[int, PartFacts]]:
    """Index and facts of every part the scope takes. Collision meshes only where asked for or named by the scope."""
    for index, part in enumerate(facts.parts):
        if part.role == COLLISION and not collision and not scope.names_role():
            continue
        if scope.takes(role=part.role, material=part.material, mesh=part.mesh, node=part.node):
            yield index, part


def islands_in(facts: Facts, scope: Scope) -> Iterator[tuple[Picture, NDArray[np.int64]]]:
    """Every picture with the island rows on it that the scope takes, pictures without any left out."""
    import numpy as np

    columns = facts.islands
    if columns is None:
        return
    wanted = np.zeros(len(facts.parts), dtype=bool)
    wanted[[index for index, _ in parts_in(facts, scope)]] = True
    for picture in facts.pictures:
        if not scope.takes(uv_layer=picture.uv_layer):
            continue
        rows = picture.islands[wanted[columns.part[picture.islands]]]
        if scope.tile:
            rows = rows[[scope.takes(tile=int(tile)) for tile in columns.tile[rows]]]
        if len(rows):
            yield picture, rows


def paintable(columns: IslandColumns, picture: Picture, rows: NDArray[np.int64]) -> NDArray[np.bool_]:
    """Of the islands in `rows`, those with room for paint: UV area, and at least half a texel wide over their length.

    The others take their color from a point or a line of the map: they need no room, overlap nothing and stand no way up.
    """
    import numpy as np

    box = columns.bounds[rows]
    length = np.hypot((box[:, 2] - box[:, 0]) * picture.width, (box[:, 3] - box[:, 1]) * picture.height)
    texels = columns.uv_area[rows] * (picture.width * picture.height)
    wide: NDArray[np.bool_] = (columns.winding[rows] != 0) & (texels >= NARROWEST * length)
    return wide


def painted_in(facts: Facts, scope: Scope) -> Iterator[tuple[Picture, NDArray[np.int64]]]:
    """`islands_in` without palettes, layouts without a map (`Picture.bare`), and islands that have no room for paint."""
    for picture, rows in islands_in(facts, scope):
        assert facts.islands is not None
        rows = rows[paintable(facts.islands, picture, rows)]
        if len(rows) and not picture.palette and not picture.bare:
            yield picture, rows


def island_place(facts: Facts, picture: Picture, rows: NDArray[np.int64]) -> Place:
    """The place of some islands of one picture: shared names where they agree, the box around them all."""
    columns = facts.islands
    assert columns is not None
    parts = [facts.parts[index] for index in sorted({int(p) for p in columns.part[rows]})]
    box = columns.bounds[rows]

    def shared(values: list[str]) -> str:
        return values[0] if len(set(values)) == 1 else ""

    return Place(
        file=shared([part.file for part in parts]),
        role=picture.role,
        node=shared([part.node for part in parts]),
        mesh=shared([part.mesh for part in parts]),
        material=shared([part.material for part in parts]),
        uv_layer=picture.uv_layer,
        tile=picture.tile,
        islands=tuple(int(row) + 1 for row in rows),
        uv_box=box_around(box),
        map=dict(picture.files).get(picture.driving_slot, ""),
    )


def surface_place(parts: Sequence[PartFacts], uv_layer: int) -> tuple[str, Place]:
    """What a sentence calls one surface with parts of one or several materials, and its place."""
    first = parts[0]
    materials = sorted({part.material for part in parts if part.material})
    worn = (
        f" (material{'' if len(materials) == 1 else 's'} {', '.join(f'`{one}`' for one in materials)})"
        if materials
        else ""
    )
    place = Place(
        file=first.file,
        role=first.role,
        node=first.node,
        mesh=first.mesh,
        material=materials[0] if len(materials) == 1 else "",
        uv_layer=uv_layer,
    )
    return f"mesh `{first.mesh or first.node}`{worn}", place


def made_to_repeat(columns: IslandColumns, picture: Picture) -> bool:
    """Whether half of a picture's islands and more lie beyond the first tile of a map that repeats: then everything on it
    lies over something else, and overlap and room say little."""
    rows = picture.islands
    beyond = ~columns.inside[rows] | (columns.corner[rows] != 0).any(axis=1)
    return picture.repeats and 2 * int(beyond.sum()) >= len(rows)


def tile_corner(picture: Picture) -> tuple[int, int]:
    """Whole U and V of the picture's tile."""
    if picture.repeats or picture.tile < 1001:
        return 0, 0
    return (picture.tile - 1001) % 10, (picture.tile - 1001) // 10


def repeating(picture: Picture) -> tuple[bool, bool]:
    """Whether what is painted at one end of the map is read at the other, across and up: a map of no UDIM tile whose
    sampler repeats it. Light is baked into maps that are packed with others and never repeated."""
    if not picture.repeats or picture.bare:
        return False, False
    across, up = picture.wrap
    return across == "repeat", up == "repeat"


def box_around(boxes: NDArray[np.float64]) -> tuple[float, float, float, float]:
    """u0 v0 u1 v1 around boxes (n, 4), n at least 1."""
    low, high = boxes[:, :2].min(axis=0), boxes[:, 2:].max(axis=0)
    return (round(float(low[0]), 6), round(float(low[1]), 6), round(float(high[0]), 6), round(float(high[1]), 6))


def picture_name(picture: Picture) -> str:
    """How a sentence names a picture: of a map that comes in tiles, by the tile's own file where there is one."""
    name = picture.key
    if not picture.repeats and not picture.assumed:
        name = dict(picture.files).get(picture.driving_slot, name)
    if picture.role != "model":
        name = f"{name} of {picture.role}"
    if picture.uv_layer and not name.startswith("UV layer"):
        name += f" on UV layer {picture.uv_layer}"
    return (
        name
        if not picture.assumed
        else f"{name} (no map, {picture.width} {'ordered' if picture.ordered else 'assumed'})"
    )
