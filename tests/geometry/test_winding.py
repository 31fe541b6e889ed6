from __future__ import annotations

import numpy as np

from tidegate.geometry.areas import flat_in_tile, uv_areas
from tidegate.geometry.winding import island_winding


def measure(signed: list[float], labels: list[int], count: int, flat: list[bool] | None = None):
    rows = np.array(signed)
    return island_winding(rows, rows == 0 if flat is None else np.array(flat), np.array(labels, np.int32), count)


def test_islands_are_right_mirrored_or_without_area() -> None:
    found = measure([0.5, 0.25, -0.5, 0.0, 7.0], [0, 0, 1, 2, -1], 3)
    assert found.sign.tolist() == [1, -1, 0]
    assert found.folded.tolist() == [0, 0, 0]
    assert found.flat.tolist() == [0, 0, 1]


def test_a_triangle_that_differs_from_its_island_is_folded() -> None:
    found = measure([0.5, 0.5, -0.1, -0.5, 0.1, 0.0], [0, 0, 0, 1, 1, 1], 2)
    assert found.sign.tolist() == [1, -1]
    assert found.folded.tolist() == [1, 1]
    assert found.flat.tolist() == [0, 1]
    assert found.folded_triangles.tolist() == [False, False, True, False, True, False]


def test_area_decides_and_not_the_number_of_triangles() -> None:
    found = measure([1.0, -0.1, -0.1, -0.1], [0, 0, 0, 0], 1)
    assert found.sign.tolist() == [1]
    assert found.folded.tolist() == [3]


def test_balanced_areas_are_decided_by_number_and_then_for_the_unmirrored() -> None:
    # 0.1 + 0.2 - 0.3 is 5.6e-17 in floating point: rounding must not decide.
    found = measure([-0.1, -0.2, 0.3, 0.5, -0.5], [0, 0, 0, 1, 1], 2)
    assert found.sign.tolist() == [-1, 1]
    assert found.folded.tolist() == [1, 1]


def test_flat_triangles_have_no_say() -> None:
    found = measure([1e-18, -0.5], [0, 0], 1, flat=[True, False])
    assert found.sign.tolist() == [-1]
    assert found.folded.tolist() == [0]
    assert found.flat.tolist() == [1]


def test_mirroring_the_layout_turns_every_sign() -> None:
    uv = np.random.default_rng(3).random((3, 2, 40))
    labels = np.repeat(np.arange(4, dtype=np.int32), 10)
    mirrored = uv * np.array([-1.0, 1.0])[None, :, None]
    plain = island_winding(uv_areas(uv), flat_in_tile(uv, uv_areas(uv)), labels, 4)
    other = island_winding(uv_areas(mirrored), flat_in_tile(mirrored, uv_areas(mirrored)), labels, 4)
    assert (plain.sign == -other.sign).all()
    assert (plain.sign != 0).all()
    assert plain.folded.tolist() == other.folded.tolist()
