"""Matrices against NumPy's linear algebra, and exact where nothing needs rounding."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tidegate.load import matrices

numbers = st.floats(-10, 10).map(lambda x: round(x, 3))
affine = st.lists(numbers, min_size=12, max_size=12).map(
    lambda v: matrices.from_columns((*v[:3], 0.0, *v[3:6], 0.0, *v[6:9], 0.0, *v[9:], 1.0))
)


@settings(max_examples=60, deadline=None)
@given(a=affine, b=affine, points=st.lists(st.tuples(numbers, numbers, numbers), min_size=1, max_size=5))
def test_agrees_with_numpy(a: matrices.Matrix, b: matrices.Matrix, points: list[tuple[float, ...]]) -> None:
    A, B, P = np.array(a), np.array(b), np.array(points)
    assert np.allclose(matrices.product(a, b), A @ B, atol=1e-9)
    assert np.isclose(matrices.determinant(a), np.linalg.det(A[:3, :3]), atol=1e-9)
    assert np.allclose(matrices.turned_points(a, P), P @ A[:3, :3].T + A[:3, 3], atol=1e-9)
    if abs(matrices.determinant(a)) > 1e-3:
        assert np.allclose(np.array(matrices.normal_matrix(a))[:3, :3], np.linalg.inv(A[:3, :3]).T, atol=1e-6)


def test_identity_changes_no_bit() -> None:
    points = np.array([(0.1, -0.0, 1e300)])
    assert matrices.turned_points(matrices.IDENTITY, points).tobytes() == points.tobytes()


def test_directions_keep_their_length() -> None:
    stretched = matrices.from_parts((5, 5, 5), (0, 0, 0, 1), (2, 1, 1))
    turned = matrices.turned_directions(stretched, np.array([(0.6, 0.8, 0), (0, 0, 0), (0, 0, 3.0)]))
    # (1.2, 0.8) has the length sqrt(2.08); back to length 1 it is (1.2, 0.8) / sqrt(2.08).
    assert np.allclose(turned, [(1.2 / 2.08**0.5, 0.8 / 2.08**0.5, 0), (0, 0, 0), (0, 0, 3)], atol=1e-12)


@settings(max_examples=40, deadline=None)
@given(m=affine, n=st.tuples(numbers, numbers, numbers))
def test_lengths_are_kept_whatever_the_matrix(m: matrices.Matrix, n: tuple[float, ...]) -> None:
    if abs(matrices.determinant(m)) < 1e-3:
        return
    (turned,) = matrices.turned_directions(m, np.array([n]))
    assert np.isclose(np.linalg.norm(turned), np.linalg.norm(n), atol=1e-9)
    wanted = np.array(m)[:3, :3] @ np.array(n)
    assert np.allclose(np.cross(turned, wanted), 0, atol=1e-6)


@pytest.mark.parametrize("scale", [(2, 2, 2), (-2, 2, 2), (2, 2, 2.0000001)])
def test_even_scale_and_nearly_even_scale_agree(scale: tuple[float, ...]) -> None:
    m = matrices.from_parts((1, 2, 3), (0, 0.6, 0, 0.8), scale)
    even = matrices.from_parts((0, 0, 0), (0, 0.6, 0, 0.8), tuple(np.sign(scale)))
    n = np.array([(0.6, 0, 0.8), (0, 5, 0)])
    assert np.allclose(matrices.turned_directions(m, n), matrices.turned_points(even, n), atol=1e-6)


def test_quarter_turn_about_z() -> None:
    half = 0.5**0.5
    turn = matrices.from_parts((0, 0, 0), (0, 0, half, half), (1, 1, 1))
    assert np.allclose(matrices.turned_points(turn, np.array([(1.0, 0, 0)])), [(0, 1, 0)], atol=1e-15)


def test_flat_matrix_turns_no_normals() -> None:
    with pytest.raises(ZeroDivisionError):
        matrices.normal_matrix(matrices.from_parts((0, 0, 0), (0, 0, 0, 1), (1, 0, 1)))
