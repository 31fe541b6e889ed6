"""Texels inside islands that show the background."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from .clusters import Runs, clusters_of_runs, runs_of
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
    painted: NDArray[np.bool_] | None, labels: NDArray[Any], inside: NDArray[np.int64], worst: int = 16
) -> Unpainted:
    """Unpainted texels of every island.

    painted: (H, W) True where the map differs from its background; None when it has none, then nothing is unpainted.
    labels: (H, W) label raster, -1 outside. inside: (islands,) texels of each island, `BorderBands.totals[:, 0]`.
    """
    texels = np.zeros(len(inside), np.int64)
    found = [runs_of(np.zeros(0, np.int64), np.zeros(0, np.int32), 1)]
    if painted is not None:
        if painted.shape != labels.shape:
            raise ValueError(f"painted is {painted.shape}, the layout {labels.shape}")
        height, width = labels.shape
        for top, bottom in strips(height, width):
            part = labels[top:bottom].reshape(-1)
            bare = np.flatnonzero((part >= 0) & ~painted[top:bottom].reshape(-1))
            if len(bare):
                owner = part[bare]
                texels += np.bincount(owner, minlength=len(inside))
                if worst:
                    found.append(runs_of(bare + top * width, owner, width))
    places = clusters_of_runs(Runs(*(np.concatenate(column) for column in zip(*found, strict=True))), labels.shape[1])
    return Unpainted(texels, inside, places.owner[:worst], places.texels[:worst], places.box[:worst])
