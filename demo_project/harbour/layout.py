"""Panels onto maps: one density, upright, with room between them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from .panels import Panel, Points

GAP = 16  # texels between panels and to the border


@dataclass(frozen=True)
class Laid:
    """A panel on its map. centre: texels from the lower left. box: (x0, y0, x1, y1) texels it takes up, turned."""

    panel: Panel
    density: float
    centre: tuple[float, float]
    box: tuple[int, int, int, int]

    def texels(self, s: Points, t: Points) -> Points:
        """(n, 2) texels from the map's lower left for corners (s, t) in metres."""
        panel = self.panel
        x = (s - panel.width / 2) * self.density * panel.scale
        y = (t - panel.height / 2) * self.density * panel.scale
        if panel.mirrored:
            x = -x
        turn = np.radians(panel.turn)
        return np.stack(
            [
                self.centre[0] + x * np.cos(turn) - y * np.sin(turn),
                self.centre[1] + x * np.sin(turn) + y * np.cos(turn),
            ],
            axis=1,
        )


def lay_out(panels: Sequence[Panel], size: int, density: float) -> list[Laid]:
    """Panels on a square map of `size` texels, shelf by shelf, tallest first. Raises when they do not fit."""
    laid: dict[str, Laid] = {}
    x, y, shelf = GAP, GAP, 0
    for panel in sorted(panels, key=lambda p: (-_extent(p, density)[1], p.name)):
        width, height = _extent(panel, density)
        if x + width + GAP > size:
            x, y, shelf = GAP, y + shelf + GAP, 0
        if x + width + GAP > size or y + height + GAP > size:
            raise ValueError(f"{panel.name}: {width} x {height} texels do not fit on {size}")
        laid[panel.name] = Laid(panel, density, (x + width / 2, y + height / 2), (x, y, x + width, y + height))
        x, shelf = x + width + GAP, max(shelf, height)
    return [laid[panel.name] for panel in panels]


def _extent(panel: Panel, density: float) -> tuple[int, int]:
    turn = np.radians(panel.turn)
    width, height = panel.width * density * panel.scale, panel.height * density * panel.scale
    across = abs(width * np.cos(turn)) + abs(height * np.sin(turn))
    up = abs(width * np.sin(turn)) + abs(height * np.cos(turn))
    return int(np.ceil(across - 1e-9)), int(np.ceil(up - 1e-9))
