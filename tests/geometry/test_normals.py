from __future__ import annotations

import numpy as np
import pytest

from tidegate.geometry.normals import normal_lengths, normal_to_face, not_unit, zero_normals

FACE = np.array([(0.0, 0, 0), (1, 0, 0), (0, 1, 0)])[:, :, None]  # looks along +Z


def test_lengths_sort_normals_into_good_zero_and_not_unit() -> None:
    normals = np.array(
        [[0, 0, 1], [0, 0, 1.0004], [0, 0, 1.0006], [0, 0, 0.9994], [0, 0, 0], [np.nan, 0, 1], [np.inf, 0, 0]]
    )
    lengths = normal_lengths(normals)
    assert not_unit(lengths).tolist() == [False, False, True, True, False, False, False]
    assert zero_normals(lengths).tolist() == [False, False, False, False, True, True, True]
    assert not_unit(lengths, 0.01).tolist() == [False] * 7


@pytest.mark.parametrize("degrees", [0.0, 30.0, 89.9, 90.1, 180.0])
def test_angle_between_a_normal_and_its_face(degrees: float) -> None:
    lean = np.array([0.0, np.sin(np.radians(degrees)), np.cos(np.radians(degrees))])
    # The farthest of the three counts, and length does not.
    normals = np.stack([[0.0, 0.0, 1.0], 7.0 * lean])
    assert normal_to_face(FACE, normals, np.array([[0, 1, 0]], np.int32))[0] == pytest.approx(degrees, abs=1e-6)


def test_no_answer_without_area_or_direction() -> None:
    normals = np.array([[0.0, 0, 1], [0, 0, 0]])
    assert np.isnan(normal_to_face(FACE, normals, np.array([[0, 1, 0]], np.int32))[0])
    assert np.isnan(normal_to_face(FACE, normals, np.array([[0, -1, 0]], np.int32))[0])
    assert np.isnan(normal_to_face(FACE * 0.0, normals, np.array([[0, 0, 0]], np.int32))[0])
    assert np.isnan(normal_to_face(FACE, np.zeros((0, 3)), np.array([[-1, -1, -1]], np.int32))[0])
