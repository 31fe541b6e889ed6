"""The piece of a segment that lies in a box."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely.geometry import LineString, box

from tidegate.geometry.segments import within_box


@pytest.mark.parametrize(
    ("segment", "piece"),
    [
        ((1, 1, 9, 3), (1, 1, 9, 3)),
        ((-5, 2, 25, 2), (0, 2, 10, 2)),
        ((3, 8, 3, -8), (3, 4, 3, 0)),
        ((-2, -1, 4, 2), (0, 0, 4, 2)),
        ((10, 0, 10, 4), (10, 0, 10, 4)),  # on the border
        ((2, 2, 2, 2), (2, 2, 2, 2)),
        ((10.5, 0, 10.5, 4), None),
        ((-3, 0, 3, 20), None),
        ((0, 5, 10, 5), None),
    ],
)
def test_worked_pieces(segment: tuple[float, ...], piece: tuple[float, ...] | None) -> None:
    found, kept = within_box(np.array(segment, float)[:, None], (0.0, 0.0), (10.0, 4.0))
    assert found.T.tolist() == ([list(piece)] if piece else [])
    assert kept.tolist() == ([0] if piece else [])


@settings(max_examples=60, deadline=None)
@given(st.integers(0, 2**32 - 1))
def test_the_same_as_an_intersection_by_another_library(seed: int) -> None:
    segments = np.random.default_rng(seed).uniform(-15, 25, (4, 12))
    found, kept = within_box(segments, (0.0, 0.0), (10.0, 4.0))
    wanted = {}
    for number, (x0, y0, x1, y1) in enumerate(segments.T):
        piece = LineString([(x0, y0), (x1, y1)]).intersection(box(0, 0, 10, 4))
        if piece.length > 0:
            wanted[number] = np.ravel(piece.coords)
    assert kept.tolist() == sorted(wanted)
    for column, number in zip(found.T, kept, strict=True):
        assert column == pytest.approx(wanted[number], abs=1e-9)
