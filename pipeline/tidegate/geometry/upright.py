"""Where the model's up lands in the tile, island by island.

On a standing surface up is the model's up. A flat-lying surface has no up of its own, so it is read as from the front of
the model: the top of a table tipped towards you shows its far edge uppermost, so tops point away from the front; the
underside tipped towards you shows its near edge uppermost, so undersides point to the front.

An island follows one rule, that of the kind of surface that makes up most of it, and only triangles of that kind have
a say. With J the Jacobian from tile to surface and r the rule's direction, (J'J)^-1 J' r is r laid into the tile; it
holds for mirrored islands as it stands.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

STANDING, TOP, UNDERSIDE = 0, 1, 2
RULES = ("standing", "top", "underside")

_BLOCK = 16_384  # triangles at a time: the columns in work stay in the processor's cache


class Upright(NamedTuple):
    """degrees: (i,) direction of up in the tile in texel space, counter-clockwise from right, in (-180, 180]: 90 is
    upright; NaN where there is none. certainty: (i,) 0..1, length of the mean of the island's directions: 1 when
    all triangles that have a say agree, 0 when they cancel out, as on a cap that is round about up. rule: (i,) int8 into
    RULES. share: (i,) part of the island's surface that the rule speaks for."""

    degrees: NDArray[np.float64]
    certainty: NDArray[np.float64]
    rule: NDArray[np.int8]
    share: NDArray[np.float64]


def island_upright(
    uv: NDArray[np.float64],
    xyz: NDArray[np.float64],
    labels: NDArray[np.int32],
    count: int,
    *,
    up: tuple[float, float, float] = (0.0, 1.0, 0.0),
    front: tuple[float, float, float] = (0.0, 0.0, 1.0),
    flat_within: float = 30.0,
    width: float = 1.0,
    height: float = 1.0,
) -> Upright:
    """Direction and certainty of every island.

    uv (3, 2, m), xyz (3, 3, m) corner columns; up and front: unit vectors at right angles; flat_within: a surface whose
    normal is at most that many degrees from straight up or down is flat-lying (common practice, no source);
    width, height: texels of the map, since a turn is a turn only where texels are square.
    """
    # One bin for each island and rule, and one more for the triangles that have no island.
    bins = np.zeros((4, 3 * count + 1))
    directions = (up, (-front[0], -front[1], -front[2]), front)
    limit = float(np.cos(np.radians(flat_within)))
    with np.errstate(divide="ignore", invalid="ignore"):
        for start in range(0, len(labels), _BLOCK):
            part = slice(start, start + _BLOCK)
            kind, values = _block(uv[:, :, part], xyz[:, :, part], directions, limit, width, height)
            label = labels[part].astype(np.int64)
            place = np.where(label >= 0, 3 * label + kind, 3 * count)
            for row, value in zip(bins, values, strict=True):
                np.add.at(row, place, value)
    surface, across, upward, total = (row[:-1].reshape(count, 3) for row in bins)
    chosen = np.argmax(surface, axis=1)  # of equals the first: standing, then top
    pick = (np.arange(count), chosen)
    across, upward, total = across[pick], upward[pick], total[pick]
    certainty = np.zeros(count)
    known = total > 0.0
    certainty[known] = np.minimum(np.hypot(across, upward)[known] / total[known], 1.0)
    known &= certainty > 1e-9  # directions that cancel out leave no direction, whatever rounding says
    degrees = np.full(count, np.nan)
    degrees[known] = np.degrees(np.arctan2(upward[known], across[known]))
    degrees[degrees <= -180.0] = 180.0
    whole = surface.sum(axis=1)
    share = np.zeros(count)
    np.divide(surface[pick], whole, out=share, where=whole > 0.0)
    return Upright(degrees, np.where(known, certainty, 0.0), chosen.astype(np.int8), share)


def _block(
    uv: NDArray[np.float64],
    xyz: NDArray[np.float64],
    directions: tuple[tuple[float, float, float], ...],
    limit: float,
    width: float,
    height: float,
) -> tuple[NDArray[np.int64], tuple[NDArray[np.float64], ...]]:
    """Rule of each triangle; its area, its direction in the tile times its weight (two), and its weight."""
    s1, t1 = (uv[1, 0] - uv[0, 0]) * width, (uv[1, 1] - uv[0, 1]) * height
    s2, t2 = (uv[2, 0] - uv[0, 0]) * width, (uv[2, 1] - uv[0, 1]) * height
    a, b = xyz[1] - xyz[0], xyz[2] - xyz[0]
    normal = (a[1] * b[2] - a[2] * b[1], a[2] * b[0] - a[0] * b[2], a[0] * b[1] - a[1] * b[0])
    doubled = np.sqrt(normal[0] * normal[0] + normal[1] * normal[1] + normal[2] * normal[2])
    upwards = _along(normal, directions[STANDING])
    kind = np.where(upwards >= limit * doubled, TOP, np.where(upwards <= -limit * doubled, UNDERSIDE, STANDING))
    table = np.array(directions).T
    rule = tuple(axis.take(kind) for axis in table)
    along_a = a[0] * rule[0] + a[1] * rule[1] + a[2] * rule[2]
    along_b = b[0] * rule[0] + b[1] * rule[1] + b[2] * rule[2]
    # (J'J)^-1 J' r = D G^-1 (a.r, b.r), D the sides in the tile and G their products on the surface. 1 / det G is
    # positive and left out; what is wanted is the direction.
    g11, g12, g22 = (p[0] * q[0] + p[1] * q[1] + p[2] * q[2] for p, q in ((a, a), (a, b), (b, b)))
    ca, cb = along_a * g22 - along_b * g12, along_b * g11 - along_a * g12
    x, y = s1 * ca + s2 * cb, t1 * ca + t2 * cb
    length = np.hypot(x, y)
    # Part of r that lies in the surface: sqrt((a.r ca + b.r cb) / det G). Weighting by it keeps surfaces on which r
    # hardly shows from outvoting those on which it does.
    shown = np.sqrt(np.maximum(along_a * ca + along_b * cb, 0.0)) / doubled
    area = 0.5 * doubled
    speaks = (length > 0.0) & (doubled > 0.0)
    weight = np.where(speaks, area * shown, 0.0)
    return kind, (area, np.where(speaks, weight * x / length, 0.0), np.where(speaks, weight * y / length, 0.0), weight)


def _along(vector: tuple[NDArray[np.float64], ...], direction: tuple[float, float, float]) -> NDArray[np.float64]:
    return vector[0] * direction[0] + vector[1] * direction[1] + vector[2] * direction[2]
