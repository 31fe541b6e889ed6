from __future__ import annotations

import numpy as np
import pytest

from tidegate.geometry.slivers import thinness, without_area


def columns(*points: tuple[float, ...]) -> np.ndarray:
    return np.array(points, float)[:, :, None]


@pytest.mark.parametrize(
    ("points", "wanted"),
    [
        # Height over longest side: sqrt(3) / 2 with equal sides; 1/2 for half a square; 0.01 for a needle.
        (((0, 0), (1, 0), (0.5, 3**0.5 / 2)), 3**0.5 / 2),
        (((0, 0), (1, 0), (1, 1)), 0.5),
        (((0, 0), (100, 0), (50, 1)), 0.01),
        (((0, 0), (1, 1), (2, 2)), 0.0),
        (((3, 3), (3, 3), (3, 3)), 0.0),
    ],
)
@pytest.mark.parametrize("size", [1.0, 1e-6, 1e6])
def test_thinness_of_known_triangles_of_any_size(points: tuple, wanted: float, size: float) -> None:
    flat = columns(*points) * size
    assert thinness(flat)[0] == pytest.approx(wanted, abs=1e-12)
    # Laid into space on a slant, the same.
    turn = np.array([[0.6, 0.0, 0.8], [0.0, 1.0, 0.0]])
    solid = np.einsum("ckm,kd->cdm", flat, turn)
    assert thinness(solid)[0] == pytest.approx(wanted, abs=1e-12)


def test_it_does_not_matter_which_corner_comes_first() -> None:
    rng = np.random.default_rng(0)
    triangles = rng.random((3, 3, 40))
    plain = thinness(triangles)
    np.testing.assert_allclose(thinness(triangles[[1, 2, 0]]), plain, rtol=1e-9)
    np.testing.assert_allclose(thinness(triangles[[2, 1, 0]]), plain, rtol=1e-9)


def test_nan_stays_nan() -> None:
    assert np.isnan(thinness(columns((0, 0), (np.nan, 0), (1, 1)))[0])
    assert not without_area(columns((np.nan, np.nan), (np.nan, np.nan), (np.nan, np.nan)))[0]


@pytest.mark.parametrize(("height", "flat"), [(0.0, True), (1e-6, True), (1.3e-6, False)])
def test_both_sides_of_the_rounding_of_single_precision(height: float, flat: bool) -> None:
    # At 10 m single precision steps by 2^-23 x 10 = 1.19e-6 at most.
    assert without_area(columns((0, 0, 0), (10, 0, 0), (5, height, 0)))[0] == flat
