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

from .areas import island_sums

STANDING, TOP, UNDERSIDE = 0, 1, 2
RULES = ("standing", "top", "underside")


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
    s1, t1 = (uv[1, 0] - uv[0, 0]) * width, (uv[1, 1] - uv[0, 1]) * height
    s2, t2 = (uv[2, 0] - uv[0, 0]) * width, (uv[2, 1] - uv[0, 1]) * height
    a, b = xyz[1] - xyz[0], xyz[2] - xyz[0]
    g11, g12, g22 = _dot(a, a), _dot(a, b), _dot(b, b)
    normal_up = _dot3(a[1] * b[2] - a[2] * b[1], a[2] * b[0] - a[0] * b[2], a[0] * b[1] - a[1] * b[0], up)
    doubled = np.sqrt(np.maximum(g11 * g22 - g12 * g12, 0.0))
    area = 0.5 * doubled

    kind = np.full(len(labels), STANDING, np.int8)
    with np.errstate(invalid="ignore"):
        limit = np.cos(np.radians(flat_within)) * doubled
        lying = doubled > 0.0
        kind[lying & (normal_up >= limit)] = TOP
        kind[lying & (normal_up <= -limit)] = UNDERSIDE
    surface = np.stack([island_sums(np.where(kind == rule, area, 0.0), labels, count) for rule in range(3)])
    chosen = np.argmax(surface, axis=0).astype(np.int8)  # of equals the first: standing, then top
    speaks = (labels >= 0) & (kind == (chosen[labels] if count else kind))

    away = (-front[0], -front[1], -front[2])
    along_a, along_b = np.zeros(len(labels)), np.zeros(len(labels))
    for rule, direction in ((STANDING, up), (TOP, away), (UNDERSIDE, front)):
        mine = speaks & (kind == rule)
        along_a[mine] = _dot3(a[0], a[1], a[2], direction)[mine]
        along_b[mine] = _dot3(b[0], b[1], b[2], direction)[mine]
    # (J'J)^-1 J' r = D G^-1 (a.r, b.r), D the sides in the tile and G their products on the surface. 1 / det G is
    # positive and left out; what is wanted is the direction.
    ca, cb = along_a * g22 - along_b * g12, along_b * g11 - along_a * g12
    x, y = s1 * ca + s2 * cb, t1 * ca + t2 * cb
    length = np.hypot(x, y)
    # Part of r that lies in the surface: |a ca + b cb| / det G. Weighting by it keeps surfaces on which r hardly
    # shows from outvoting those on which it does.
    with np.errstate(divide="ignore", invalid="ignore"):
        shown = np.sqrt(np.maximum(along_a * ca + along_b * cb, 0.0)) / doubled
        weight = np.where(speaks & (length > 0.0) & (doubled > 0.0), area * shown, 0.0)
        x, y = np.where(weight > 0.0, x / length, 0.0), np.where(weight > 0.0, y / length, 0.0)
    across, upward = island_sums(weight * x, labels, count), island_sums(weight * y, labels, count)
    total = island_sums(weight, labels, count)
    mean = np.hypot(across, upward)
    known = total > 0.0
    certainty = np.zeros(count)
    certainty[known] = np.minimum(mean[known] / total[known], 1.0)
    known &= certainty > 1e-9  # directions that cancel out leave no direction, whatever rounding says
    degrees = np.full(count, np.nan)
    degrees[known] = np.degrees(np.arctan2(upward[known], across[known]))
    degrees[degrees <= -180.0] = 180.0
    whole = surface.sum(axis=0)
    share = np.zeros(count)
    np.divide(surface.max(axis=0), whole, out=share, where=whole > 0.0)
    return Upright(degrees, np.where(known, certainty, 0.0), chosen, share)


def _dot(a: NDArray[np.float64], b: NDArray[np.float64]) -> NDArray[np.float64]:
    product: NDArray[np.float64] = a[0] * b[0] + a[1] * b[1] + a[2] * b[2]
    return product


def _dot3(
    x: NDArray[np.float64], y: NDArray[np.float64], z: NDArray[np.float64], direction: tuple[float, float, float]
) -> NDArray[np.float64]:
    return x * direction[0] + y * direction[1] + z * direction[2]
