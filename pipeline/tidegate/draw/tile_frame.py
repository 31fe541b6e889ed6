"""The tile on a layout that shows more than it: lighter than what lies beside it, with a border."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from tidegate.draw.canvas import Canvas
from tidegate.draw.palette import PAPER
from tidegate.model.view import View


def draw_tile(canvas: Canvas, view: View) -> None:
    """Fills the tile."""
    x0, y0, x1, y1 = (max(0, round(edge)) for edge in view.box((0.0, 0.0, 1.0, 1.0)))
    canvas[y0:y1, x0:x1] = PAPER


def tile_border(view: View) -> NDArray[np.float64]:
    """Its four sides as segments (4, 4)."""
    return frame(view.box((0.0, 0.0, 1.0, 1.0)))


def frame(box: tuple[float, float, float, float]) -> NDArray[np.float64]:
    """The sides of a box as segments (4, 4)."""
    x0, y0, x1, y1 = box
    return np.array([[x0, y0, x1, y0], [x1, y0, x1, y1], [x1, y1, x0, y1], [x0, y1, x0, y0]]).T
