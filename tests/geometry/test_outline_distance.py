"""Distance of outlines: worked values, and shapely's, which is taken at the corners too."""

from __future__ import annotations

import math

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

from tidegate.geometry import outline_distance as module
from tidegate.geometry.outline_distance import outline_distance

SQUARE = np.array([[0, 10, 10, 0], [0, 0, 10, 10]], float)


def apart(one: NDArray[np.float64], other: NDArray[np.float64]) -> float:
    def sides(ring: NDArray[np.float64]) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        return ring, np.roll(ring, -1, axis=1)

    return outline_distance(one, other, sides(one), sides(other))


@pytest.mark.parametrize(
    ("other", "wanted"),
    [
        (SQUARE, 0.0),
        (np.roll(SQUARE, 2, axis=1), 0.0),  # from another corner on
        (SQUARE[:, ::-1], 0.0),  # the other way round
        (SQUARE + np.array([[3.0], [0.0]]), 3.0),
        (SQUARE + np.array([[3.0], [4.0]]), 5.0),
        (np.insert(SQUARE, 1, [5, 0], axis=1), 0.0),  # one corner more on a straight side
        (np.insert(SQUARE, 1, [5, 2], axis=1), 2.0),  # and pressed in
        # an oblong along the lower side: the square reaches 6 above it
        (np.array([[0, 10, 10, 0], [0, 0, 4, 4]], float), 6.0),
    ],
)
def test_worked_distances(other: NDArray[np.float64], wanted: float) -> None:
    assert apart(SQUARE, other) == pytest.approx(wanted)
    assert apart(other, SQUARE) == pytest.approx(wanted)


rings = st.lists(st.floats(1, 9), min_size=3, max_size=12).map(
    lambda reach: np.array(
        [
            [r * math.cos(2 * math.pi * k / len(reach)) for k, r in enumerate(reach)],
            [r * math.sin(2 * math.pi * k / len(reach)) for k, r in enumerate(reach)],
        ]
    )
)


@settings(max_examples=60, deadline=None)
@given(rings, rings)
def test_shapely_agrees(one: NDArray[np.float64], other: NDArray[np.float64]) -> None:
    wanted = shapely.hausdorff_distance(shapely.LinearRing(one.T), shapely.LinearRing(other.T))
    assert apart(one, other) == pytest.approx(wanted, abs=1e-9)


def test_nothing_is_infinitely_far() -> None:
    assert apart(SQUARE, np.zeros((2, 0))) == math.inf


def test_long_outlines_are_measured_at_some_corners(monkeypatch: pytest.MonkeyPatch) -> None:
    turn = np.linspace(0, 2 * np.pi, 4000, endpoint=False)
    ring = np.stack([np.cos(turn), np.sin(turn)])
    monkeypatch.setattr(module, "_MOST", 1 << 16)
    assert apart(ring, 1.5 * ring) == pytest.approx(0.5, abs=1e-3)
