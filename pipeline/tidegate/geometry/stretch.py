"""How unevenly a map is pulled over the surface.

Per triangle the map from the tile to the surface is linear; its singular values G >= g tell how many metres the texel
next door lies away in the worst and in the best direction. Formulae: P. V. Sander, J. Snyder, S. J. Gortler, H. Hoppe,
"Texture Mapping Progressive Meshes", SIGGRAPH 2001, section 3. They are taken in texel space (UV times map size), since
a map of 2048 x 1024 on a square is pulled even though its UVs are not.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from .areas import island_sums

_BLOCK = 32_768  # rows at a time: the columns in work stay in the processor's cache


class IslandStretch(NamedTuple):
    """Per island: ratio (i,) area-weighted mean of G / g; l2 and worst (i,) scaled so that an evenly scaled island has 1;
    without (i,) surface area of triangles that have no stretch because their UV area is zero. NaN: nothing to measure."""

    ratio: NDArray[np.float64]
    l2: NDArray[np.float64]
    worst: NDArray[np.float64]
    without: NDArray[np.float64]


def singular_values(
    uv: NDArray[np.float64], xyz: NDArray[np.float64], width: float = 1.0, height: float = 1.0
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Larger and smaller singular value (m,) of the map from tile to surface, in units of xyz per texel.

    uv (3, 2, m), xyz (3, 3, m) corner columns; width, height: texels of the map (1, 1 gives values per UV unit).
    No UV area: both are inf, as Sander et al. have it. No surface area: the smaller is 0 (both, when it is a point).
    """
    count = uv.shape[2]
    larger, smaller = np.empty(count), np.empty(count)
    with np.errstate(divide="ignore", invalid="ignore"):
        for start in range(0, count, _BLOCK):
            part = slice(start, start + _BLOCK)
            _block(uv[:, :, part], xyz[:, :, part], width, height, larger[part], smaller[part])
    return larger, smaller


def _block(
    uv: NDArray[np.float64],
    xyz: NDArray[np.float64],
    width: float,
    height: float,
    larger: NDArray[np.float64],
    smaller: NDArray[np.float64],
) -> None:
    s1, t1 = (uv[1, 0] - uv[0, 0]) * width, (uv[1, 1] - uv[0, 1]) * height
    s2, t2 = (uv[2, 0] - uv[0, 0]) * width, (uv[2, 1] - uv[0, 1]) * height
    doubled = s1 * t2 - s2 * t1
    a0, a1, a2 = xyz[1, 0] - xyz[0, 0], xyz[1, 1] - xyz[0, 1], xyz[1, 2] - xyz[0, 2]
    b0, b1, b2 = xyz[2, 0] - xyz[0, 0], xyz[2, 1] - xyz[0, 1], xyz[2, 2] - xyz[0, 2]
    inverse = 1.0 / doubled
    t1 *= inverse
    t2 *= inverse
    s1 *= inverse
    s2 *= inverse
    # Columns of the Jacobian: along U it is a t2 - b t1, along V it is b s1 - a s2.
    u0, u1, u2 = a0 * t2 - b0 * t1, a1 * t2 - b1 * t1, a2 * t2 - b2 * t1
    v0, v1, v2 = b0 * s1 - a0 * s2, b1 * s1 - a1 * s2, b2 * s1 - a2 * s2
    a = u0 * u0 + u1 * u1 + u2 * u2
    b = u0 * v0 + u1 * v1 + u2 * v2
    c = v0 * v0 + v1 * v1 + v2 * v2
    difference = a - c
    root = np.sqrt(difference * difference + 4.0 * b * b)
    np.sqrt(0.5 * (a + c + root), out=larger)
    # The smaller one from the determinant: 1/2 (a + c - root) would lose all its digits on long thin triangles.
    n0, n1, n2 = u1 * v2 - u2 * v1, u2 * v0 - u0 * v2, u0 * v1 - u1 * v0
    np.sqrt(n0 * n0 + n1 * n1 + n2 * n2, out=smaller)
    smaller /= larger
    smaller[larger == 0.0] = 0.0
    flat = doubled == 0.0
    if flat.any():
        larger[flat] = np.inf
        smaller[flat] = np.inf


def triangle_ratio(larger: NDArray[np.float64], smaller: NDArray[np.float64]) -> NDArray[np.float64]:
    """G / g (m,): 1 where the map is only scaled. inf without UV area or surface area."""
    with np.errstate(divide="ignore", invalid="ignore"):
        ratio = larger / smaller
    ratio[~np.isfinite(larger) | (smaller == 0.0)] = np.inf
    return ratio


def island_stretch(
    larger: NDArray[np.float64],
    smaller: NDArray[np.float64],
    texel_areas: NDArray[np.float64],
    surface: NDArray[np.float64],
    labels: NDArray[np.int32],
    count: int,
) -> IslandStretch:
    """Stretch of every island, weighted by surface area.

    larger, smaller (m,): `singular_values`; texel_areas (m,): unsigned areas in the space they were taken in;
    surface (m,): areas on the surface. Triangles with no UV area would make every mean infinite and hide the rest, so
    they stand apart in `without`; triangles with no surface have no weight.
    """
    defined = np.isfinite(larger) & (surface > 0.0) & (smaller > 0.0) & (labels >= 0)
    weight = np.where(defined, surface, 0.0)
    clean_larger, clean_smaller = np.where(defined, larger, 1.0), np.where(defined, smaller, 1.0)
    total = island_sums(weight, labels, count)
    with np.errstate(divide="ignore", invalid="ignore"):
        ratio = island_sums(weight * (clean_larger / clean_smaller), labels, count) / total
        square = 0.5 * (clean_larger * clean_larger + clean_smaller * clean_smaller)
        scale = np.sqrt(island_sums(np.where(defined, texel_areas, 0.0), labels, count) / total)
        l2 = np.sqrt(island_sums(weight * square, labels, count) / total) * scale
    worst = np.full(count, -np.inf)
    np.maximum.at(worst, labels[defined], larger[defined])
    worst[~np.isfinite(worst)] = np.nan
    without = island_sums(np.where(np.isinf(larger), surface, 0.0), labels, count)
    return IslandStretch(ratio, l2, worst * scale, without)


def share_beyond(
    values: NDArray[np.float64], limit: float, surface: NDArray[np.float64], labels: NDArray[np.int32], count: int
) -> NDArray[np.float64]:
    """(count,) share of each island's surface on triangles whose value (m,) is above the limit; inf is above, NaN not.

    NaN for an island without surface.
    """
    beyond = island_sums(np.where(values > limit, surface, 0.0), labels, count)
    with np.errstate(divide="ignore", invalid="ignore"):
        return beyond / island_sums(surface, labels, count)
