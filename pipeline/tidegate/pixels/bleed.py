"""How far the paint is carried past every island's edge.

The bleed of an island is the largest d such that at least 98 % of the texels within d outside it, and nearer to it than to
any other island, differ from the background.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from .border_bands import BorderBands, owned_texels
from .clusters import clusters

WANTED_SHARE = 0.98
INDISTINCT_SHARE = 0.02  # of the island's own edge texels that may show the background before its bleed cannot be told


@dataclass(frozen=True, slots=True, eq=False)
class Bleed:
    """One row an island.

    depth: texels, 0 .. the depth of the bands. open_ended: the bands end there, the paint may go on: the depth is "at least".
    texels: within the wanted depth and nearest to the island; 0 means neighbours or the border of the map leave it no room.
    indistinct: share of the island's own edge texels that show the background; where it is over INDISTINCT_SHARE the paint
    itself looks like the background at the edge, and a short depth proves nothing.
    run: edge length in texels, about, of the worst stretch where the paint stops short of the wanted depth, 0 when there is none;
    run_depth: depth reached in its worst place; run_box: (i, 4) pixel box of its bare texels, zeros when there is none;
    run_at: (i, 2) x, y of one of them that lies nearest to the island, the middle one of those in reading order.
    bare: bare texels within the wanted depth.
    """

    wanted: int
    depth: NDArray[np.int32]
    open_ended: NDArray[np.bool_]
    texels: NDArray[np.int64]
    bare: NDArray[np.int64]
    indistinct: NDArray[np.float64]
    run: NDArray[np.int64]
    run_depth: NDArray[np.int32]
    run_box: NDArray[np.int64]
    run_at: NDArray[np.int64]

    @property
    def can_tell(self) -> NDArray[np.bool_]:
        """Islands whose paint can be told from the background at their edge."""
        return self.indistinct <= INDISTINCT_SHARE


def bleed(painted: NDArray[np.bool_] | None, bands: BorderBands, wanted: int, share: float = WANTED_SHARE) -> Bleed:
    """Bleed of every island of a layout.

    painted: (H, W) True where the map differs from its background; None when it has no background, then nothing is short.
    wanted: texels, at most the depth of the bands.
    """
    if not 1 <= wanted <= bands.depth:
        raise ValueError(f"wanted must be 1 .. {bands.depth}, the depth of the bands, came {wanted}")
    islands, columns = bands.totals.shape
    bare = np.zeros(islands * columns, np.int64)
    indistinct = np.zeros(islands, np.float64)
    places: list[NDArray[np.int32]] = []
    owners: list[NDArray[np.int32]] = []
    rings: list[NDArray[np.uint8]] = []
    if painted is not None:
        if painted.shape != bands.band.shape:
            raise ValueError(f"painted is {painted.shape}, the layout {bands.band.shape}")
        flat = painted.reshape(-1)
        for place, owner, ring in owned_texels(bands):
            unpainted = np.flatnonzero(~flat[place])
            if not len(unpainted):
                continue
            place, owner, ring = place[unpainted], owner[unpainted], ring[unpainted]
            bare += np.bincount(owner * columns + ring, minlength=len(bare))
            short = ring <= wanted
            places.append(place[short].astype(np.int32))  # a map holds fewer than 2^31 texels
            owners.append(owner[short])
            rings.append(ring[short])
        on_edge = np.bincount(bands.edge_owner, minlength=islands)
        shown = np.bincount(bands.edge_owner[~flat[bands.edge]], minlength=islands)
        indistinct = shown / np.maximum(on_edge, 1)

    table = bare.reshape(islands, columns)
    depth = _depth(table, bands.totals, share)
    run, run_depth, run_box, run_at = _worst_runs(
        places, owners, rings, islands, painted.shape[1] if painted is not None else 1
    )
    return Bleed(
        wanted,
        depth,
        depth == bands.depth,
        bands.totals[:, 1 : wanted + 1].sum(axis=1),
        table[:, 1 : wanted + 1].sum(axis=1),
        indistinct,
        run,
        run_depth,
        run_box,
        run_at,
    )


def _depth(bare: NDArray[np.int64], totals: NDArray[np.int64], share: float) -> NDArray[np.int32]:
    """The largest d, per row, whose texels up to d are painted to `share`. Whole numbers, so that the limit is exact."""
    within, missing = np.cumsum(totals[:, 1:], axis=1), np.cumsum(bare[:, 1:], axis=1)
    parts = round(share * 10_000)
    enough = (within - missing) * 10_000 >= parts * within
    steps = enough.shape[1]
    last = steps - np.argmax(enough[:, ::-1], axis=1)
    return np.where(enough.any(axis=1), last, 0).astype(np.int32)


def _worst_runs(
    places: list[NDArray[np.int32]],
    owners: list[NDArray[np.int32]],
    rings: list[NDArray[np.uint8]],
    islands: int,
    width: int,
) -> tuple[NDArray[np.int64], NDArray[np.int32], NDArray[np.int64], NDArray[np.int64]]:
    """Longest stretch of bare texels per island: its length, the depth reached there, its box, where to look."""
    run = np.zeros(islands, np.int64)
    run_depth = np.zeros(islands, np.int32)
    box, at = np.zeros((islands, 4), np.int64), np.zeros((islands, 2), np.int64)
    if not places:
        return run, run_depth, box, at
    ring = np.concatenate(rings)
    place = np.concatenate(places)
    found = clusters(place, np.concatenate(owners), width)
    # The ring of a cluster that holds most of its texels is about as long as the edge it lies along.
    span = int(ring.max(initial=0)) + 1
    per_ring = np.bincount(found.number_of * span + ring, minlength=len(found) * span).reshape(len(found), span)
    nearest = np.argmax(per_ring > 0, axis=1)
    length = per_ring.max(axis=1, initial=0)
    order = np.lexsort((np.arange(len(found)), -length, found.owner))
    _, first = np.unique(found.owner[order], return_index=True)
    worst = order[first]
    island = found.owner[worst]
    run[island], run_depth[island], box[island] = length[worst], nearest[worst] - 1, found.box[worst]
    # Of the texels at the least depth the middle one: on a straight run it lies halfway along.
    least = np.flatnonzero(ring == nearest[found.number_of])
    least = least[np.argsort(found.number_of[least], kind="stable")]
    low, high = (np.searchsorted(found.number_of[least], worst, side) for side in ("left", "right"))
    middle = place[least[(low + high - 1) // 2]]
    at[island] = np.stack([middle % width, middle // width], axis=1)
    return run, run_depth, box, at
