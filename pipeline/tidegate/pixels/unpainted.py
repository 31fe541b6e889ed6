"""Texels inside islands that show the background."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from .clusters import clusters
from .strips import strips


@dataclass(frozen=True, slots=True, eq=False)
class Unpainted:
    """texels, inside: (islands,) texels that show the background, and texels of the island.

    worst: places, the largest first: worst_island (n,), worst_texels (n,), worst_box (n, 4) x0, y0, x1, y1 half-open.
    """

    texels: NDArray[np.int64]
    inside: NDArray[np.int64]
    worst_island: NDArray[np.int32]
    worst_texels: NDArray[np.int64]
    worst_box: NDArray[np.int64]

    @property
    def share(self) -> NDArray[np.float64]:
        """Share of each island that shows the background, 0 for an island without texels."""
        return np.asarray(self.texels / np.maximum(self.inside, 1))


def unpainted(
    painted: NDArray[np.bool_] | None, labels: NDArray[np.int32], inside: NDArray[np.int64], worst: int = 16
) -> Unpainted:
    """Unpainted texels of every island.

    painted: (H, W) True where the map differs from its background; None when it has none, then nothing is unpainted.
    labels: (H, W) label raster, -1 outside. inside: (islands,) texels of each island, `BorderBands.totals[:, 0]`.
    """
    none = np.zeros(0, np.int64)
    places, owners = [none], [none.astype(np.int32)]
    if painted is not None:
        if painted.shape != labels.shape:
            raise ValueError(f"painted is {painted.shape}, the layout {labels.shape}")
        height, width = labels.shape
        for top, bottom in strips(height, width):
            part = labels[top:bottom].reshape(-1)
            bare = np.flatnonzero((part >= 0) & ~painted[top:bottom].reshape(-1))
            places.append(bare + top * width)
            owners.append(part[bare].astype(np.int32))
    owner = np.concatenate(owners)
    found = clusters(np.concatenate(places), owner, labels.shape[1])
    return Unpainted(
        np.bincount(owner, minlength=len(inside)).astype(np.int64),
        inside,
        found.owner[:worst],
        found.texels[:worst],
        found.box[:worst],
    )
