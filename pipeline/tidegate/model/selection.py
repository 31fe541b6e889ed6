"""Which rows of the facts a rule is for: scopes applied to parts, pictures and islands."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

from tidegate.model.check import Scope
from tidegate.model.facts import Facts, PartFacts, Picture
from tidegate.model.finding import Place

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

ISLAND_SCOPE = frozenset({"role", "material", "mesh", "node", "uv_layer", "tile"})
PART_SCOPE = frozenset({"role", "material", "mesh", "node"})
MAP_SCOPE = frozenset({"slot", "material", "variant", "tile"})
COLLISION = "collision"


def parts_in(facts: Facts, scope: Scope, *, collision: bool = False) -> Iterator[tuple[int, PartFacts]]:
    """Index and facts of every part the scope takes. Collision meshes only where asked for or named by the scope."""
    for index, part in enumerate(facts.parts):
        if part.role == COLLISION and not collision and not scope.role:
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
        uv_box=(
            round(float(box[:, 0].min()), 6),
            round(float(box[:, 1].min()), 6),
            round(float(box[:, 2].max()), 6),
            round(float(box[:, 3].max()), 6),
        ),
        map=dict(picture.files).get(picture.driving_slot, ""),
    )


def picture_name(picture: Picture) -> str:
    """How a sentence names a picture."""
    return picture.key if not picture.assumed else f"{picture.key} (no map, {picture.width} assumed)"
