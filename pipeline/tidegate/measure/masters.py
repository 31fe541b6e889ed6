"""A layered master against the flat map that was saved from it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from tidegate.measure.decoding import Pixels
from tidegate.model.image_header import ImageLayer
from tidegate.pixels.master import MasterComparison, compare_master

WORTH_A_LOOK = 0.0002  # share of texels that differ below which nobody asks where they lie


@dataclass(frozen=True, slots=True)
class MasterFacts:
    """path: of the master. map: of its flat map, "" without one. layers: from the top down, () where none are named.

    comparison: None where either picture could not be decoded or there is no flat map.
    """

    path: str
    map: str
    layers: tuple[ImageLayer, ...]
    comparison: MasterComparison | None = None


def compared(
    merged: Pixels, flat: Pixels, wire: Callable[[], NDArray[np.bool_] | None], lossy: bool = False
) -> MasterComparison:
    """The merged picture against the flat map. wire: gives the layout's lines at the map's size, asked only when needed.

    lossy: the flat map was packed with loss.
    """
    first = compare_master(merged, flat, lossy=lossy)
    if not first.comparable or first.differing <= WORTH_A_LOOK:
        return first
    lines = wire()
    return first if lines is None else compare_master(merged, flat, lines, lossy=lossy)
