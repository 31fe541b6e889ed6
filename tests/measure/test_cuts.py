"""Seams against surface and shading: an open box unfolded into a cross."""

from __future__ import annotations

import numpy as np
import pytest

from tests.support.laid_props import Sheet, hinge, laid, painted
from tests.support.mesh_props import facts_of


def test_a_cube_unfolded_as_a_cross_has_seven_seams() -> None:
    # A net of the cube cuts 12 - 5 of its edges, each 1 m; the surface is 6 square metres.
    faces = {
        "front": ([[0, 0, 1], [1, 0, 1], [1, 1, 1], [0, 1, 1]], (1, 1)),
        "right": ([[1, 0, 1], [1, 0, 0], [1, 1, 0], [1, 1, 1]], (2, 1)),
        "back": ([[1, 0, 0], [0, 0, 0], [0, 1, 0], [1, 1, 0]], (3, 1)),
        "left": ([[0, 0, 0], [0, 0, 1], [0, 1, 1], [0, 1, 0]], (0, 1)),
        "top": ([[0, 1, 1], [1, 1, 1], [1, 1, 0], [0, 1, 0]], (1, 2)),
        "under": ([[0, 0, 0], [1, 0, 0], [1, 0, 1], [0, 0, 1]], (1, 0)),
    }
    points = np.concatenate([np.array(corners, float) for corners, _ in faces.values()])
    square = np.array([[0, 0], [1, 0], [1, 1], [0, 1]], float)
    uv = np.concatenate([(square + at) / 4 for _, at in faces.values()])
    triangles = np.concatenate([np.array([[0, 1, 2], [0, 2, 3]]) + 4 * k for k in range(6)])
    (cuts,) = facts_of(laid(Sheet(points, triangles, uv)), "cuts").cuts
    assert cuts.islands == 1
    assert cuts.seam_length == pytest.approx(7.0) and cuts.surface == pytest.approx(6.0)


@pytest.mark.parametrize("cut", [False, True])
@pytest.mark.parametrize("degrees", [0.0, 40.0, 180.0])
def test_an_edge_is_hard_or_smooth_and_cut_or_whole(degrees: float, cut: bool) -> None:
    (cuts,) = facts_of(painted(hinge(degrees=degrees, cut=cut)), "cuts").cuts
    hard, metres = cuts.hard_and_whole(30.0)
    smooth, length = cuts.smooth_and_cut(30.0)
    assert (hard.total, metres) == ((1, 1.0) if degrees > 30 and not cut else (0, 0.0))
    assert (smooth.total, length) == ((1, 1.0) if degrees <= 30 and cut else (0, 0.0))
